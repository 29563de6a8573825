#include "report.hpp"

#include <unistd.h>

#include <cstdio>

#include "evenstroke/terminal_text.hpp"
#include "terminal.hpp"

namespace evenstroke::cli {

namespace {

/// Where an error lies; the name "-" says nothing outside the command line.
std::string place_words(const std::string& place) {
    const bool is_stdin = place == "-" || place.starts_with("-:") || place.starts_with("-,");
    return printable(is_stdin ? "standard input" + place.substr(1) : place);
}

void say(const std::string& text) {
    std::fputs((text + '\n').c_str(), stderr);
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

int report_usage(const std::string& problem, const std::string& command) {
    const int columns = terminal_columns(STDERR_FILENO);
    say(wrap("evenstroke: " + sentence(printable(problem)), columns, 2));
    say("  Try: evenstroke " + (command.empty() ? "" : command + " ") + "--help");
    return exit_usage;
}

int report(const Error& error) {
    say(error_text(error, terminal_columns(STDERR_FILENO)));
    return exit_failed;
}

int report(const std::exception& error) {
    say("evenstroke: " + printable(error.what()) + ".");
    say("  This should not happen: please report it with the recording.");
    return exit_failed;
}

}  // namespace evenstroke::cli
