// The commands as CLI11 takes them, and what it says in the program's own words. Its header is slow to
// compile: it is included here and in help.cpp alone.
#include "command_line.hpp"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <filesystem>
#include <system_error>

#include "help.hpp"
#include "nearest.hpp"
#include "option_values.hpp"
#include "output.hpp"
#include "report.hpp"

namespace evenstroke::cli {

namespace {

/// Adds one option, in the way of its target.
struct Adder {
    CLI::App& command;
    const Option& row;

    template <class T>
    CLI::Option* operator()(T* target) const {
        return command.add_option(row.name, *target, row.help);
    }
    // Not by the parser's own way, which takes nan, inf and numbers in other bases.
    CLI::Option* operator()(double* target) const { return by_text(into(target)); }
    CLI::Option* operator()(std::optional<double>* target) const { return by_text(into(target)); }
    CLI::Option* operator()(bool* target) const { return command.add_flag(row.name, *target, row.help); }
    CLI::Option* operator()(const WholeNumber& whole) const {
        const auto problem = [whole](const std::string& text) {
            return whole_number_problem(text, whole.least, whole.most);
        };
        return command.add_option(row.name, *whole.value, row.help)->check(problem, "");
    }
    CLI::Option* operator()(const Choice& choice) const {
        return command.add_option(row.name, *choice.value, row.help)->check(CLI::IsMember(choice.words));
    }
    CLI::Option* operator()(const Setter& set) const { return by_text(set); }

  private:
    template <class T>
    static Setter into(T* target) {
        return [target](const std::string& text) { *target = number(text); };
    }
    CLI::Option* by_text(const Setter& set) const {
        const auto named = [set, name = row.name](const std::string& text) {
            try {
                set(text);
            } catch (const BadUsage& error) {
                throw BadUsage(name + ": " + error.what());
            }
        };
        return command.add_option_function<std::string>(row.name, named, row.help);
    }
};

std::string empty_problem(const std::string& text) {
    return text.empty() ? "the value is empty: write it, or omit the option" : "";
}

void add_option(CLI::App& command, const Option& row) {
    CLI::Option* option = std::visit(Adder{command, row}, row.target);
    if (!row.group.empty()) option->group(row.group);
    if (!row.needs.empty()) option->needs(command.get_option(row.needs));
    const bool is_flag = option->get_type_size() == 0;
    if (!is_flag) option->type_name(row.value)->check(empty_problem, "");
}

void add_command(CLI::App& app, const Command& row) {
    CLI::App& command = *app.add_subcommand(row.name, row.summary);
    for (const Argument& argument : row.arguments)
        std::visit(
            [&](auto* target) {
                command.add_option(argument.name, *target, argument.help)->required(argument.required);
            },
            argument.target);
    for (const Option& option : row.options) add_option(command, option);
    command.footer(row.footer);
}

std::string joined(const std::vector<std::string>& names) {
    return fmt::format("{}", fmt::join(names, ", "));
}

std::string meant(const std::string& word, const std::vector<std::string>& names) {
    const std::string name = nearest(word, names);
    return name.empty() ? "" : fmt::format(" (did you mean {}?)", name);
}

/// What is wrong with a command line that names no command.
std::string without_command(const CLI::App& app) {
    std::vector<std::string> names;
    for (const CLI::App* command : app.get_subcommands([](const CLI::App*) { return true; }))
        names.push_back(command->get_name());
    const auto rest = app.remaining();
    if (rest.empty()) return "a command is needed: " + joined(names);
    if (rest.front().starts_with("-"))
        return fmt::format("there is no option {} before a command", rest.front());
    return fmt::format("there is no command \"{}\"{}; there are {}", rest.front(), meant(rest.front(), names),
                       joined(names));
}

/// What is wrong with the first argument that a command does not take.
std::string unexpected(const CLI::App& command) {
    std::vector<std::string> names;
    for (const CLI::Option* option : command.get_options())
        for (const auto& name : option->get_lnames()) names.push_back("--" + name);
    const auto rest = command.remaining();
    // After "--" nothing is an option.
    if (const auto end = std::find(rest.begin(), rest.end(), "--");
        end != rest.end() && end + 1 != rest.end())
        return fmt::format(
            "\"{}\" is one argument too many: what follows -- is not an option, so put options before it",
            *(end + 1));
    const auto option =
        std::find_if(rest.begin(), rest.end(), [](const std::string& word) { return word.starts_with("-"); });
    if (option != rest.end()) {
        const std::string flag = option->substr(0, option->find('='));
        return fmt::format("there is no option {}{}", flag, meant(flag, names));
    }
    return fmt::format("\"{}\" is one argument too many", rest.empty() ? "" : rest.front());
}

/// "--from: 1 required S missing", in plain words.
std::string missing_value(const std::string& parser_words) {
    const std::string middle = ": 1 required ";
    const std::string tail = " missing";
    const auto at = parser_words.find(middle);
    if (at == std::string::npos || !parser_words.ends_with(tail)) return parser_words;
    const auto value = at + middle.size();
    return fmt::format("{} needs a value: {}", parser_words.substr(0, at),
                       parser_words.substr(value, parser_words.size() - tail.size() - value));
}

std::string usage_problem(const CLI::App& app, const CLI::ParseError& stop) {
    const auto chosen = app.get_subcommands();
    const auto is = [code = stop.get_exit_code()](CLI::ExitCodes kind) {
        return code == static_cast<int>(kind);
    };
    if (chosen.empty() && (is(CLI::ExitCodes::RequiredError) || is(CLI::ExitCodes::ExtrasError)))
        return without_command(app);
    if (!chosen.empty() && is(CLI::ExitCodes::ExtrasError)) return unexpected(*chosen.front());
    if (is(CLI::ExitCodes::ArgumentMismatch)) return missing_value(stop.what());
    return stop.what();
}

/// For a file whose name the parser took for options; empty when there is none.
std::string hyphen_hint(int argc, char** argv) {
    for (int i = 1; i < argc; ++i) {
        const std::string word = argv[i];
        std::error_code unreadable;
        if (word.size() > 1 && word.front() == '-' && std::filesystem::exists(word, unreadable))
            return ". The file " + word + " begins with a hyphen: write ./" + word;
    }
    return {};
}

}  // namespace

int run(const std::vector<Command>& commands, int argc, char** argv) {
    CLI::App app(
        "Reads a recording of an engine being cranked and says how each cylinder's compression compares.",
        "evenstroke");
    polish(app);
    for (const Command& command : commands) add_command(app, command);
    const auto chosen = [&] {
        return std::find_if(commands.begin(), commands.end(),
                            [&](const Command& command) { return app.got_subcommand(command.name); });
    };
    const auto wrong = [&](const std::string& problem) {
        return report_usage(problem, chosen() == commands.end() ? "" : chosen()->name);
    };
    try {
        app.parse(argc, argv);
        return chosen()->work();
    } catch (const CLI::CallForHelp&) {
        write_stdout(app.help());
    } catch (const CLI::CallForVersion& version) {
        write_stdout(std::string(version.what()) + "\n");
    } catch (const CLI::ParseError& stop) {
        std::string problem = usage_problem(app, stop);
        while (problem.ends_with('.')) problem.pop_back();
        return wrong(problem + hyphen_hint(argc, argv));
    } catch (const BadUsage& error) {
        return wrong(error.what());
    }
    return exit_analysed;
}

}  // namespace evenstroke::cli
