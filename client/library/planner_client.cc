// Idea: blocking calls, but for a large shot one more thread that reads answers while the caller's thread writes parts:
// the daemon reports progress while it receives, and neither side may wait for the other with full pipes.
//
// A large shot is freed piece by piece as it is sent, so that client and message never both hold it whole.

#include "client/library/planner_client.h"

#include <limits>
#include <thread>
#include <utility>

#include "absl/strings/str_cat.h"
#include "client/library/block_slices.h"
#include "client/library/faults.h"
#include "grpcpp/create_channel.h"
#include "grpcpp/security/credentials.h"
#include "grpcpp/support/channel_arguments.h"

namespace scantling::client {
namespace {

// Parts of a large shot; well under the usual 4 MiB limit of a message.
constexpr int64_t kPartBytes = int64_t{1} << 20;

using PlanStream = grpc::ClientReaderWriter<v1::PlanLargeShotRequest, v1::PlanLargeShotResponse>;

bool SendRows(v1::Shot& shot, PlanStream& stream) {
  v1::PlanLargeShotRequest part;
  int64_t bytes = 0;
  for (v1::SceneObject& object : *shot.mutable_objects()) {
    bytes += static_cast<int64_t>(object.ByteSizeLong());
    part.mutable_rows()->add_objects()->Swap(&object);
    if (bytes < kPartBytes) continue;
    if (!stream.Write(part)) return false;
    part.Clear();
    bytes = 0;
  }
  shot.clear_objects();
  return bytes == 0 || stream.Write(part);
}

bool SendBlocks(v1::Shot& shot, PlanStream& stream) {
  const int64_t frames = int64_t{shot.frames().last()} - shot.frames().first() + 1;
  v1::PlanLargeShotRequest part;
  const auto send = [&](const v1::ObjectBlock& piece) {
    *part.mutable_block() = piece;
    return stream.Write(part);
  };
  for (v1::ObjectBlock& block : *shot.mutable_blocks()) {
    if (!SliceBlock(block, frames, kPartBytes, send)) return false;
    block = v1::ObjectBlock();
  }
  return true;
}

// Start, rows, blocks, half-close. A failed write means the daemon ended the call; the reason comes from Finish.
void Send(v1::Shot shot, const v1::PlanOptions& options, PlanStream& stream) {
  v1::Shot parts;
  parts.mutable_objects()->Swap(shot.mutable_objects());
  parts.mutable_blocks()->Swap(shot.mutable_blocks());
  *parts.mutable_frames() = shot.frames();
  v1::PlanLargeShotRequest start;
  start.mutable_start()->mutable_shot()->Swap(&shot);
  *start.mutable_start()->mutable_options() = options;
  if (stream.Write(start) && SendRows(parts, stream) && SendBlocks(parts, stream)) stream.WritesDone();
}

void Receive(PlanStream& stream, const ProgressCall& progress, v1::PlanShotResponse& answer, bool& complete) {
  v1::PlanLargeShotResponse part;
  google::protobuf::RepeatedPtrField<v1::Decision> decisions;
  while (stream.Read(&part)) {
    if (part.has_progress() && progress) progress(part.progress());
    if (part.has_decisions()) {  // asked first: naming a part of a oneof makes it that part
      for (v1::Decision& decision : *part.mutable_decisions()->mutable_decisions()) decisions.Add()->Swap(&decision);
    }
    complete = complete || part.has_summary();
    if (part.has_summary()) answer.Swap(part.mutable_summary());
  }
  answer.mutable_plan()->mutable_decisions()->Swap(&decisions);
}

// What is wrong with a request as one message, before it is sent. Protobuf cannot write more than 2^31 - 1 bytes.
absl::Status CheckOneMessage(const google::protobuf::Message& request) {
  const size_t bytes = request.ByteSizeLong();
  if (bytes <= size_t{std::numeric_limits<int32_t>::max()}) return absl::OkStatus();
  return absl::ResourceExhaustedError(absl::StrCat("got a shot of ", bytes, " bytes, want at most ",
                                                   std::numeric_limits<int32_t>::max(),
                                                   ": this call sends it in one message"));
}

// The transport refuses a message that is larger than the daemon's limit in words of its own and with no details.
absl::Status OneMessageStatus(const grpc::Status& status, const google::protobuf::Message& request) {
  if (status.error_code() != grpc::StatusCode::RESOURCE_EXHAUSTED || !status.error_details().empty()) {
    return StatusFromGrpc(status);
  }
  return absl::ResourceExhaustedError(
      absl::StrCat("the shot is larger than a message the daemon takes: got ", request.ByteSizeLong(),
                   " bytes, and this call sends it in one message; want a smaller shot, or a daemon with a higher "
                   "max_message_bytes (",
                   status.error_message(), ")"));
}

// A refused connection is an answer: nobody waits for a second one.
bool AwaitConnection(grpc::Channel& channel, std::chrono::system_clock::time_point deadline) {
  while (true) {
    const grpc_connectivity_state state = channel.GetState(true);
    if (state == GRPC_CHANNEL_READY) return true;
    if (state == GRPC_CHANNEL_TRANSIENT_FAILURE || state == GRPC_CHANNEL_SHUTDOWN) return false;
    if (!channel.WaitForStateChange(state, deadline)) return false;
  }
}

}  // namespace

absl::Status PlannerClient::Connect(const ConnectOptions& options) {
  grpc::ChannelArguments arguments;
  arguments.SetMaxReceiveMessageSize(-1);  // a plan is as large as its shot; the sender knows its own limits
  arguments.SetMaxSendMessageSize(-1);
  arguments.SetInt(GRPC_ARG_ENABLE_HTTP_PROXY, 0);  // the address is meant as it is written
  channel_ = grpc::CreateCustomChannel(options.address, grpc::InsecureChannelCredentials(), arguments);
  if (!AwaitConnection(*channel_, std::chrono::system_clock::now() + options.patience)) {
    return absl::UnavailableError(absl::StrCat("no daemon answers at ", options.address));
  }
  stub_ = v1::ShotPlanner::NewStub(channel_);
  time_limit_ = options.time_limit;
  return absl::OkStatus();
}

void PlannerClient::LimitTime(grpc::ClientContext& context) const {
  if (time_limit_) context.set_deadline(std::chrono::system_clock::now() + *time_limit_);
}

absl::StatusOr<v1::PlanShotResponse> PlannerClient::Plan(v1::Shot shot, const v1::PlanOptions& options,
                                                         const ProgressCall& progress) {
  if (static_cast<int64_t>(shot.ByteSizeLong() + options.ByteSizeLong()) > kMostUnaryBytes) {
    return PlanInBlocks(std::move(shot), options, progress);
  }
  v1::PlanShotRequest request;
  request.mutable_shot()->Swap(&shot);
  *request.mutable_options() = options;
  grpc::ClientContext context;
  LimitTime(context);
  v1::PlanShotResponse answer;
  const grpc::Status status = stub_->PlanShot(&context, request, &answer);
  if (!status.ok()) return StatusFromGrpc(status);
  return answer;
}

absl::StatusOr<v1::PlanShotResponse> PlannerClient::PlanInBlocks(v1::Shot shot, const v1::PlanOptions& options,
                                                                 const ProgressCall& progress) {
  grpc::ClientContext context;
  LimitTime(context);
  const std::unique_ptr<PlanStream> stream = stub_->PlanLargeShot(&context);
  v1::PlanShotResponse answer;
  bool complete = false;
  std::thread reader([&] { Receive(*stream, progress, answer, complete); });
  Send(std::move(shot), options, *stream);
  reader.join();
  const grpc::Status status = stream->Finish();
  if (!status.ok()) return StatusFromGrpc(status);
  if (!complete) return absl::InternalError("the daemon ended the answer without its totals");
  return answer;
}

absl::StatusOr<v1::ExplainDecisionResponse> PlannerClient::Explain(const v1::ExplainDecisionRequest& request) {
  if (absl::Status checked = CheckOneMessage(request); !checked.ok()) return checked;
  grpc::ClientContext context;
  LimitTime(context);
  v1::ExplainDecisionResponse answer;
  const grpc::Status status = stub_->ExplainDecision(&context, request, &answer);
  if (!status.ok()) return OneMessageStatus(status, request);
  return answer;
}

absl::StatusOr<v1::FrontierSummary> PlannerClient::TraceFrontier(const v1::TraceFrontierRequest& request,
                                                                 const ProgressCall& progress, const PointCall& point) {
  if (absl::Status checked = CheckOneMessage(request); !checked.ok()) return checked;
  grpc::ClientContext context;
  LimitTime(context);
  const std::unique_ptr<grpc::ClientReader<v1::TraceFrontierResponse>> stream = stub_->TraceFrontier(&context, request);
  std::optional<v1::FrontierSummary> summary;
  v1::TraceFrontierResponse part;
  bool enough = false;
  while (!enough && stream->Read(&part)) {
    if (part.has_progress() && progress) progress(part.progress());
    enough = part.has_point() && point && !point(part.point());
    if (part.has_summary()) summary = part.summary();
  }
  if (enough) context.TryCancel();
  const grpc::Status status = stream->Finish();
  if (enough) return absl::CancelledError("no further point was wanted");
  if (!status.ok()) return OneMessageStatus(status, request);
  if (!summary) return absl::InternalError("the daemon ended the frontier without its summary");
  return *std::move(summary);
}

absl::StatusOr<v1::CheckShotResponse> PlannerClient::Check(const v1::CheckShotRequest& request) {
  if (absl::Status checked = CheckOneMessage(request); !checked.ok()) return checked;
  grpc::ClientContext context;
  LimitTime(context);
  v1::CheckShotResponse answer;
  const grpc::Status status = stub_->CheckShot(&context, request, &answer);
  if (!status.ok()) return OneMessageStatus(status, request);
  return answer;
}

}  // namespace scantling::client
