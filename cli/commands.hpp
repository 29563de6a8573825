// The commands, one file each.
#pragma once

#include "command.hpp"

namespace evenstroke::cli {

[[nodiscard]] Command inspect_command();
[[nodiscard]] Command crank_command();
[[nodiscard]] Command pressure_command();
[[nodiscard]] Command followup_command();
[[nodiscard]] Command compare_command();
[[nodiscard]] Command batch_command();
[[nodiscard]] Command synth_command();

}  // namespace evenstroke::cli
