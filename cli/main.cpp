// evenstroke: how evenly the cylinders of a cranking engine compress. The commands are in files of their own.
#include <exception>

#include "commands.hpp"
#include "evenstroke/render.hpp"
#include "help.hpp"
#include "output.hpp"
#include "report.hpp"

namespace {

/// Runs the command; what it ended in is the exit code.
int run(CLI::App& app, int argc, char** argv) {
    using namespace evenstroke;
    try {
        app.parse(argc, argv);
        return cli::exit_analysed;
    } catch (const CLI::ParseError& stop) {
        return cli::report(app, stop);  // help and version are written here, which may fail too
    }
}

}  // namespace

int main(int argc, char** argv) {
    using namespace evenstroke;
    cli::guard_streams();
    CLI::App app("Says from a recording of a cranking engine how each cylinder's compression compares.",
                 "evenstroke");
    cli::polish(app);
    cli::add_inspect_command(app);
    cli::add_crank_command(app);
    cli::add_pressure_command(app);
    cli::add_followup_command(app);
    cli::add_compare_command(app);
    cli::add_batch_command(app);
    cli::add_synth_command(app);
    cli::refuse_empty_values(app);
    try {
        return run(app, argc, argv);
    } catch (const cli::ReaderGone&) {
        return cli::exit_analysed;
    } catch (const Error& error) {
        return cli::report(error);
    } catch (const std::exception& error) {
        return cli::report(error);
    }
}
