// The table of crank's options as flags of a command.
#pragma once

#include <CLI/CLI.hpp>

#include "crank_options.hpp"

namespace evenstroke::cli {

/// Adds a flag for each option of the table; `request` must outlive the parse.
void add_crank_flags(CLI::App& command, CrankRequest& request);
/// Adds the flag of one option, under the plain options.
void add_crank_flag(CLI::App& command, CrankRequest& request, const std::string& name);

/// Runs `work`; wrong usage becomes the parser's error (exit 2).
template <class Work>
auto usage_checked(Work work) {
    try {
        return work();
    } catch (const BadUsage& error) {
        throw CLI::ValidationError(error.what());
    }
}

}  // namespace evenstroke::cli
