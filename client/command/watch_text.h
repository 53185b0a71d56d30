// What a watched shot's changes did, as a layout artist reads it. Pure; thread-safe; nothing in an id can steer a
// terminal.

#ifndef SCANTLING_CLIENT_COMMAND_WATCH_TEXT_H_
#define SCANTLING_CLIENT_COMMAND_WATCH_TEXT_H_

#include <optional>
#include <string>

#include "client/library/live_events.h"
#include "client/library/live_shot.h"

namespace scantling::client {

// What was written into the file: "3 objects changed, 1 added, camera \"main\" changed"; "nothing that is planned by".
std::string FileChangeText(const LiveShot& before, const ShotChange& change);

// A final plan: its time, whose tier or need of animation changed and why, the totals. `before`: the totals of the
// final plan told last, from which its changes count; none: it is the first, told by its totals alone. `all`: every
// changed object, instead of the 15 whose hours change most.
std::string FinalText(const LivePlanUpdate& news, const std::optional<v1::Totals>& before, bool all);

// A settled plan that is still to be made final, in one line; changes count from the same.
std::string SettledText(const LivePlanUpdate& news, const std::optional<v1::Totals>& before);

// A first look, in one line; empty where it sees nothing new.
std::string FirstLookText(const LiveProvisional& news);

}  // namespace scantling::client

#endif  // SCANTLING_CLIENT_COMMAND_WATCH_TEXT_H_
