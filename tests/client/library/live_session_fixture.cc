// What the test cases of a live session share, out of line.

#include "tests/client/library/live_session_fixture.h"

namespace scantling::client {

v1::Shot Header() {
  v1::Shot header;
  header.set_shot_id("qy_0100");
  header.mutable_frames()->set_first(1);
  header.mutable_frames()->set_last(24);
  return header;
}

v1::SceneObject Object(const std::string& id, double x) {
  v1::SceneObject object;
  object.set_id(id);
  for (int i = 0; i < 16; ++i) object.mutable_transform()->add_matrices(i == 12 ? x : i % 5 == 0);
  return object;
}

v1::Shot ShotWith(const std::vector<std::string>& ids) {
  v1::Shot shot = Header();
  for (const std::string& id : ids) *shot.add_objects() = Object(id);
  return shot;
}

std::vector<std::string> IdsOf(const v1::ShotEdit& edit) {
  std::vector<std::string> ids;
  for (const auto& object : edit.objects()) ids.push_back(object.id());
  return ids;
}

grpc::Status LiveSessionTest::Obliging(Seen& seen, FakeCall& call, const std::string& session_id) {
  const v1::AssembleShotRequest first = call.Read();
  seen.With([&] { seen.firsts.push_back(first); });
  call.Start(session_id);
  for (int64_t number = 1;; ++number) {
    const v1::ShotEdit edit = call.ReadEdit();
    if (edit.revision() == 0) break;
    seen.With([&] { seen.edits.push_back(edit); });
    call.Plan(number, edit.revision(), v1::FINAL, IdsOf(edit), number == 1);
  }
  return grpc::Status::OK;
}

}  // namespace scantling::client
