// What every gRPC client finds: health, reflection, answers on a socket and on a port.

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/stat.h>

#include <set>

#include "google/protobuf/descriptor.pb.h"
#include "proto/health.grpc.pb.h"
#include "proto/reflection.grpc.pb.h"
#include "tests/contract/daemon_process.h"
#include "tests/contract/shots.h"

namespace scantling::testing {
namespace {

using grpc::health::v1::HealthCheckRequest;
using grpc::health::v1::HealthCheckResponse;
using grpc::reflection::v1alpha::ServerReflection;
using grpc::reflection::v1alpha::ServerReflectionRequest;
using grpc::reflection::v1alpha::ServerReflectionResponse;

class Serving : public ::testing::Test {
 protected:
  DaemonProcess daemon_{{"--listen", "127.0.0.1:0"}};
};

HealthCheckResponse::ServingStatus HealthOf(DaemonProcess& daemon, const std::string& name) {
  const auto stub = grpc::health::v1::Health::NewStub(daemon.Channel());
  grpc::ClientContext context;
  HealthCheckRequest request;
  request.set_service(name);
  HealthCheckResponse response;
  const grpc::Status status = stub->Check(&context, request, &response);
  return status.ok() ? response.status() : HealthCheckResponse::SERVICE_UNKNOWN;
}

ServerReflectionResponse Reflect(DaemonProcess& daemon, const ServerReflectionRequest& request) {
  const auto stub = ServerReflection::NewStub(daemon.Channel());
  grpc::ClientContext context;
  const auto stream = stub->ServerReflectionInfo(&context);
  ServerReflectionResponse response;
  stream->Write(request);
  stream->WritesDone();
  stream->Read(&response);
  EXPECT_TRUE(stream->Finish().ok());
  return response;
}

TEST_F(Serving, HealthAnswersForEveryServiceAndForTheWhole) {
  for (const char* name :
       {"", "scantling.v1.ShotPlanner", "grpc.health.v1.Health", "grpc.reflection.v1alpha.ServerReflection"}) {
    EXPECT_EQ(HealthOf(daemon_, name), HealthCheckResponse::SERVING) << name;
  }
  EXPECT_EQ(HealthOf(daemon_, "scantling.v1.NoSuchService"), HealthCheckResponse::SERVICE_UNKNOWN);
}

TEST_F(Serving, ReflectionListsTheServices) {
  ServerReflectionRequest request;
  request.set_list_services("*");
  std::set<std::string> names;
  const ServerReflectionResponse response = Reflect(daemon_, request);
  for (const auto& service : response.list_services_response().service()) names.insert(service.name());
  EXPECT_THAT(names, ::testing::IsSupersetOf({"scantling.v1.ShotPlanner", "grpc.health.v1.Health",
                                              "grpc.reflection.v1alpha.ServerReflection"}));
}

TEST_F(Serving, ReflectionKnowsTheMethodsOfThePlanner) {
  ServerReflectionRequest request;
  request.set_file_containing_symbol("scantling.v1.ShotPlanner");
  const ServerReflectionResponse response = Reflect(daemon_, request);
  ASSERT_GT(response.file_descriptor_response().file_descriptor_proto_size(), 0);
  google::protobuf::FileDescriptorProto file;
  ASSERT_TRUE(file.ParseFromString(response.file_descriptor_response().file_descriptor_proto(0)));
  std::set<std::string> methods;
  for (const auto& service : file.service()) {
    for (const auto& method : service.method()) methods.insert(method.name());
  }
  EXPECT_EQ(methods, (std::set<std::string>{"PlanShot", "PlanLargeShot", "AssembleShot", "ExplainDecision",
                                            "TraceFrontier", "CheckShot"}));
}

TEST_F(Serving, PortZeroAnnouncesTheRealPort) {
  const std::string address = daemon_.Address();
  ASSERT_EQ(address.substr(0, 10), "127.0.0.1:");
  EXPECT_GT(std::stoi(address.substr(10)), 0);
}

TEST(ServingOnASocket, AnswersAndIsOpenToThisUserOnly) {
  const TemporaryFolder folder;
  const std::string path = folder.path() + "/fresh/scantlingd.sock";
  DaemonProcess daemon({"--listen", "unix:" + path});
  ASSERT_EQ(daemon.Address(), "unix:" + path);
  EXPECT_EQ(HealthOf(daemon, ""), HealthCheckResponse::SERVING);
  struct stat about = {};
  ASSERT_EQ(stat(path.c_str(), &about), 0);
  EXPECT_EQ(about.st_mode & 07777, 0600u);
  ASSERT_EQ(stat((folder.path() + "/fresh").c_str(), &about), 0);
  EXPECT_EQ(about.st_mode & 07777, 0700u);
}

TEST(ServingOnASocket, DefaultIsInTheRuntimeFolder) {
  const TemporaryFolder folder;
  setenv("XDG_RUNTIME_DIR", folder.path().c_str(), 1);
  DaemonProcess daemon({});
  unsetenv("XDG_RUNTIME_DIR");
  EXPECT_EQ(daemon.Address(), "unix:" + folder.path() + "/scantlingd.sock");
}

}  // namespace
}  // namespace scantling::testing
