// Help texts that fit 80 columns.
#pragma once

namespace CLI {
class App;
}

namespace evenstroke::cli {

/// Sets the program's own help layout, --help and --version, and that a command must be given. Call it before
/// the commands are added: they inherit the layout.
void polish(CLI::App& app);

}  // namespace evenstroke::cli
