// From the words of the command line to the command that they name.
#pragma once

#include <vector>

#include "command.hpp"

namespace evenstroke::cli {

/// Runs the command that the words name, or shows help or the version; returns the exit code. Wrong usage is
/// reported here; everything else that the work throws passes through.
[[nodiscard]] int run(const std::vector<Command>& commands, int argc, char** argv);

}  // namespace evenstroke::cli
