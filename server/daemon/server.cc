// gRPC's own health service and reflection are used. Two defaults are changed: SO_REUSEPORT is off, or a second daemon
// on the same port would silently share its calls; and message limits come from the configuration.

#include "server/daemon/server.h"

#include <optional>

#include "absl/strings/str_cat.h"
#include "grpcpp/ext/proto_server_reflection_plugin.h"
#include "grpcpp/health_check_service_interface.h"
#include "grpcpp/security/server_credentials.h"
#include "grpcpp/server_builder.h"
#include "server/daemon/socket_file.h"

namespace scantling {
namespace {

// Served by gRPC itself, beside ours.
constexpr const char* kHealthName = "grpc.health.v1.Health";
constexpr const char* kReflectionName = "grpc.reflection.v1alpha.ServerReflection";

std::unique_ptr<grpc::Server> Build(const ListenAddress& address, const std::vector<NamedService>& services,
                                    const TransportSettings& transport, int* port) {
  grpc::EnableDefaultHealthCheckService(true);
  grpc::reflection::InitProtoReflectionServerBuilderPlugin();
  grpc::ServerBuilder builder;
  builder.AddListeningPort(address.text, grpc::InsecureServerCredentials(), port);
  builder.AddChannelArgument(GRPC_ARG_ALLOW_REUSEPORT, 0);
  builder.SetMaxReceiveMessageSize(transport.max_message_bytes);
  builder.SetMaxSendMessageSize(transport.max_message_bytes);
  const auto ping_ms = static_cast<int>(std::chrono::milliseconds(transport.ping_after).count());
  builder.AddChannelArgument(GRPC_ARG_KEEPALIVE_TIME_MS, ping_ms);
  builder.AddChannelArgument(GRPC_ARG_KEEPALIVE_TIMEOUT_MS, ping_ms / 2);
  builder.AddChannelArgument(GRPC_ARG_KEEPALIVE_PERMIT_WITHOUT_CALLS, 1);
  // gRPC would else send no more than two pings, five minutes apart, on a stream that is silent.
  builder.AddChannelArgument(GRPC_ARG_HTTP2_MAX_PINGS_WITHOUT_DATA, 0);
  builder.AddChannelArgument(GRPC_ARG_HTTP2_MIN_SENT_PING_INTERVAL_WITHOUT_DATA_MS, ping_ms);
  for (const NamedService& service : services) builder.RegisterService(service.service);
  return builder.BuildAndStart();
}

// "127.0.0.1:0" -> "127.0.0.1:41234".
std::string WithPort(const std::string& address, int port) {
  return absl::StrCat(address.substr(0, address.rfind(':') + 1), port);
}

}  // namespace

absl::StatusOr<std::unique_ptr<RunningServer>> RunningServer::Start(const ListenAddress& address,
                                                                    const std::vector<NamedService>& services,
                                                                    const TransportSettings& transport) {
  std::optional<absl::StatusOr<SocketPlace>> place;  // until bound
  if (address.is_socket()) {
    place.emplace(SocketPlace::Claim(address));
    if (!place->ok()) return place->status();
  }
  std::unique_ptr<RunningServer> running(new RunningServer());
  int port = 0;
  running->server_ = Build(address, services, transport, &port);
  if (running->server_ == nullptr || port == 0) {
    return absl::UnavailableError(absl::StrCat("cannot listen on ", address.text, "; is it taken?"));
  }
  running->address_ = address.is_socket() ? address.text : WithPort(address.text, port);
  grpc::HealthCheckServiceInterface* health = running->server_->GetHealthCheckService();
  health->SetServingStatus(true);  // "" and whatever is named so far
  for (const NamedService& service : services) health->SetServingStatus(service.name, true);
  for (const char* name : {kHealthName, kReflectionName}) health->SetServingStatus(name, true);
  return running;
}

void RunningServer::StopServing() { server_->GetHealthCheckService()->SetServingStatus(false); }

void RunningServer::Shutdown(std::chrono::milliseconds patience) {
  server_->Shutdown(std::chrono::system_clock::now() + patience);
}

}  // namespace scantling
