#include "report.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cctype>
#include <cstdio>

#include "nearest.hpp"
#include "output.hpp"
#include "terminal.hpp"

namespace evenstroke::cli {

namespace {

/// Upper case first, a full stop last.
std::string sentence(std::string text) {
    if (text.empty()) return text;
    text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
    if (text.back() != '.' && text.back() != '?' && text.back() != '!') text += '.';
    return text;
}

/// Where an error lies; the name "-" says nothing outside the command line.
std::string place_words(const std::string& place) {
    const bool is_stdin = place == "-" || place.starts_with("-:") || place.starts_with("-,");
    return printable(is_stdin ? "standard input" + place.substr(1) : place);
}

void say(const std::string& text) {
    std::fputs((text + '\n').c_str(), stderr);
}

std::string joined(const std::vector<std::string>& names) {
    std::string text;
    for (const auto& name : names) text += (text.empty() ? "" : ", ") + name;
    return text;
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
            "\"{}\" is one argument too many: what follows -- is no option, so put options before it",
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

}  // namespace

std::string error_text(const Error& error, int columns) {
    const std::string place = error.place().empty() ? "" : place_words(error.place()) + ": ";
    std::string problem = printable(error.what());
    if (!problem.empty() && problem.back() != '.') problem += '.';
    constexpr int indent = 2;
    std::string text = wrap("evenstroke: " + place + problem, columns, indent);
    if (!error.remedy().empty())
        text += "\n  " + wrap(sentence(printable(error.remedy())), columns - indent, indent);
    return text;
}

int report(const CLI::App& app, const CLI::ParseError& stop) {
    constexpr int parser_codes_from = 100;
    const int code = stop.get_exit_code();
    if (code == 0) {  // help or version was asked for
        write_stdout(stop.get_name() == "CallForHelp" || stop.get_name() == "CallForAllHelp"
                         ? app.help()
                         : std::string(stop.what()) + "\n");
        return exit_analysed;
    }
    if (code < parser_codes_from) return code;
    const int columns = terminal_columns(STDERR_FILENO);
    say(wrap(fmt::format("evenstroke: {}", sentence(printable(usage_problem(app, stop)))), columns, 2));
    const auto chosen = app.get_subcommands();
    say(fmt::format("  Try: evenstroke {}--help", chosen.empty() ? "" : chosen.front()->get_name() + " "));
    return exit_usage;
}

int report(const Error& error) {
    say(error_text(error, terminal_columns(STDERR_FILENO)));
    return exit_failed;
}

int report(const std::exception& error) {
    say(fmt::format("evenstroke: {}.", error.what()));
    say("  This should not happen: please report it with the recording.");
    return exit_failed;
}

}  // namespace evenstroke::cli
