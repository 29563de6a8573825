// The commands, one file each: what they add to the command line.
#pragma once

#include <CLI/CLI.hpp>

namespace evenstroke::cli {

// Each adds its command to `app` and returns it. The work runs while the command line is parsed; it throws
// evenstroke::Error (exit 1), CLI::ParseError (exit 2) or NoVerdict (exit 3).
CLI::App* add_crank_command(CLI::App& app);
CLI::App* add_inspect_command(CLI::App& app);
CLI::App* add_pressure_command(CLI::App& app);
CLI::App* add_followup_command(CLI::App& app);
CLI::App* add_compare_command(CLI::App& app);
CLI::App* add_batch_command(CLI::App& app);
CLI::App* add_synth_command(CLI::App& app);

/// The recording was read and the result written, but no verdict can be given.
class NoVerdict : public CLI::RuntimeError {
  public:
    static constexpr int exit_code = 3;
    NoVerdict() : CLI::RuntimeError(exit_code) {}
};

}  // namespace evenstroke::cli
