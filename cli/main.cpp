// evenstroke: how evenly the cylinders of a cranking engine compress. The commands are in files of their own.
#include <exception>

#include "command_line.hpp"
#include "commands.hpp"
#include "output.hpp"
#include "report.hpp"

int main(int argc, char** argv) {
    using namespace evenstroke;
    cli::guard_streams();
    try {
        return cli::run(
            {cli::inspect_command(), cli::crank_command(), cli::pressure_command(), cli::followup_command(),
             cli::compare_command(), cli::batch_command(), cli::synth_command()},
            argc, argv);
    } catch (const cli::ReaderGone&) {
        return cli::exit_analysed;
    } catch (const Error& error) {
        return cli::report(error);
    } catch (const std::exception& error) {
        return cli::report(error);
    }
}
