// Help texts that fit 80 columns.
#pragma once

#include <CLI/CLI.hpp>

namespace evenstroke::cli {

/// Sets the program's own help layout, --help and --version, and that a command must be given. Call it before
/// the commands are added: they inherit the layout.
void polish(CLI::App& app);

/// Makes an empty value of any option of the commands a usage error: called after they were added.
void refuse_empty_values(CLI::App& app);

}  // namespace evenstroke::cli
