#include "help.hpp"

#include <unistd.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <memory>

#include "evenstroke/version.hpp"
#include "terminal.hpp"

namespace evenstroke::cli {

namespace {

constexpr int name_columns = 26;

/// Options as "  --name VALUE   what it does", wrapped.
class HelpLayout : public CLI::Formatter {
  public:
    std::string make_option(const CLI::Option* option, bool is_positional) const override {
        std::string name = "  " + (is_positional ? option->get_name(true) : option->get_name(false, true));
        if (!is_positional && option->get_type_size() != 0) name += " " + option->get_type_name();
        return entry(name, option->get_description());
    }
    std::string make_group(std::string group, bool is_positional,
                           std::vector<const CLI::Option*> options) const override {
        std::string text = "\n" + group + ":\n";
        for (const CLI::Option* option : options) text += make_option(option, is_positional);
        return text;
    }
    std::string make_subcommands(const CLI::App* app, CLI::AppFormatMode) const override {
        std::string text = "\nCommands:\n";
        const auto commands = app->get_subcommands([](const CLI::App*) { return true; });
        if (commands.empty()) return {};
        for (const CLI::App* command : commands) text += make_subcommand(command);
        return text;
    }
    std::string make_subcommand(const CLI::App* command) const override {
        return entry("  " + command->get_name(), command->get_description());
    }
    std::string make_description(const CLI::App* app) const override {
        return wrap(app->get_description(), help_columns(), 0) + "\n";
    }
    std::string make_usage(const CLI::App* app, std::string name) const override {
        std::string text = "\nUsage: " + name;
        for (const CLI::Option* option :
             app->get_options([](const CLI::Option* o) { return o->get_positional(); }))
            text += " " + option->get_name(true);
        if (!app->get_subcommands([](const CLI::App*) { return true; }).empty()) text += " COMMAND";
        return text + " [OPTIONS]\n";
    }
    std::string make_footer(const CLI::App* app) const override {
        const std::string footer = app->get_footer();
        return footer.empty() ? footer : footer + "\n";
    }

  private:
    static int help_columns() {
        constexpr int least = 50;
        constexpr int most = 100;
        return std::clamp(terminal_columns(STDOUT_FILENO), least, most);
    }
    static std::string entry(std::string name, const std::string& description) {
        if (name.size() + 2 > name_columns)
            name += "\n" + std::string(name_columns, ' ');
        else
            name.resize(name_columns, ' ');
        const std::string text =
            wrap(std::string(name_columns, 'x') + " " + description, help_columns(), name_columns);
        return name + text.substr(name_columns + 1) + "\n";
    }
};

}  // namespace

void polish(CLI::App& app) {
    app.formatter(std::make_shared<HelpLayout>());
    app.set_help_flag("-h,--help", "Show this help and stop");
    app.set_version_flag("--version", std::string("evenstroke ") + version(), "Show the version and stop");
    app.require_subcommand(1);
    app.footer(
        "Examples:\n"
        "  evenstroke inspect capture.csv\n"
        "  evenstroke crank capture.csv --order 1-3-4-2 --sync Cyl1\n"
        "  evenstroke crank capture.flac --cylinders 6 --channel 1 --scale 1000 --json -\n"
        "\n"
        "evenstroke COMMAND --help tells more. Exit codes: 0 analysed; 1 could not read,\n"
        "analyse or write; 2 usage; 3 no verdict.");
}

}  // namespace evenstroke::cli
