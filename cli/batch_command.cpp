#include "commands.hpp"
namespace evenstroke::cli {
CLI::App* add_batch_command(CLI::App& app) {
    return app.add_subcommand("batch", "Many recordings, one row each");
}
}  // namespace evenstroke::cli
