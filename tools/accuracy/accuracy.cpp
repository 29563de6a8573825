// How far the program's figures are from the truth of engines that the synth draws.
#include <fmt/core.h>

#include <algorithm>
#include <charconv>
#include <cstdio>
#include <cstring>
#include <exception>
#include <iterator>
#include <string>
#include <string_view>
#include <vector>

#include "modes.hpp"

namespace {

constexpr const char* usage =
    "usage: evenstroke_accuracy [MODE [ENGINES [FIRST_SEED [CSV]]]]\n"
    "Draws engines from every family of the synth, analyses them, and prints how far the figures are from "
    "the "
    "truth.\n"
    "  MODE        current (default), voltage, events (the current without a sync), wheel (60-2 teeth "
    "alone),\n"
    "              wheel-lead (TDC told, once a turn), wheel-cam (with a cam's mark): each cylinder's "
    "contribution;\n"
    "              drive: torque, friction, stall current and loop resistance, and the kind of each loss;\n"
    "              pressure: what one cylinder's transducer says\n"
    "  ENGINES     of a family, 1 or more (default 40)\n"
    "  FIRST_SEED  their seeds begin here (default 1)\n"
    "  CSV         a file for the single figures\n";

/// The whole word as a number of at least `least`, or false.
template <typename Number>
bool read(const char* word, Number least, Number& into) {
    const char* end = word + std::strlen(word);
    const auto [stopped, error] = std::from_chars(word, end, into);
    return error == std::errc() && stopped == end && into >= least;
}

int refuse(const std::string& what) {
    fmt::print(stderr, "evenstroke_accuracy: {}\n{}", what, usage);
    return 2;
}

}  // namespace

int main(int count, char** words) try {
    accuracy::Task task{.mode = count > 1 ? words[1] : "current", .csv = {}};
    constexpr std::string_view modes[] = {"current", "voltage", "events", "wheel", "wheel-lead", "wheel-cam"};
    const bool contribution = std::find(std::begin(modes), std::end(modes), task.mode) != std::end(modes);
    if (!contribution && task.mode != "pressure" && task.mode != "drive")
        return refuse(fmt::format("\"{}\" is no mode", task.mode));
    if (count > 2 && !read(words[2], 1, task.engines_each))
        return refuse(fmt::format("\"{}\" is no number of engines", words[2]));
    if (count > 3 && !read(words[3], std::uint64_t{0}, task.first_seed))
        return refuse(fmt::format("\"{}\" is no seed", words[3]));
    if (count > 4) task.csv = words[4];
    if (count > 5) return refuse(fmt::format("\"{}\" is one word too many", words[5]));
    if (task.csv && task.mode == "drive") return refuse("drive writes no CSV");
    if (contribution)
        accuracy::run_contribution(task);
    else if (task.mode == "drive")
        accuracy::run_drive(task);
    else
        accuracy::run_pressure(task);
    return 0;
} catch (const std::exception& error) {
    fmt::print(stderr, "evenstroke_accuracy: {}\n", error.what());
    return 1;
}
