// A command of the program in plain values: arguments, options and work. command_line.cpp alone knows the
// parser that they are handed to.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

namespace evenstroke::cli {

/// A whole number from `least` to `most` (empty: no upper limit worth saying).
struct WholeNumber {
    std::uint64_t* value = nullptr;
    std::uint64_t least = 0;
    std::optional<std::uint64_t> most;
};

/// One of a few words.
struct Choice {
    std::string* value = nullptr;
    std::vector<std::string> words;
};

/// Sets a value from its text. Throws BadUsage, or Error when it is of its kind but out of range.
using Setter = std::function<void(const std::string& text)>;

/// Where the value of an option goes: a bool is a flag without a value, a vector takes several values.
using Target = std::variant<std::string*, std::vector<std::string>*, bool*, double*, std::optional<double>*,
                            std::optional<int>*, WholeNumber, Choice, Setter>;

/// The heading of options that name a result.
inline constexpr const char* output_group = "Output (- is standard output)";

struct Option {
    std::string name;   ///< with its dashes
    std::string value;  ///< what stands for the value in the help; a flag has none
    std::string group;  ///< heading in the help; empty: with --help
    std::string help;   ///< with unit and default
    Target target;
    std::string needs = {};  ///< the option, added before, without which this one is wrong
};

/// A value known by its place.
struct Argument {
    std::string name;
    std::string help;
    std::variant<std::string*, std::vector<std::string>*> target;
    bool required = true;
};

/// What the targets point to must live as long as the command: `work` shares in owning it.
struct Command {
    std::string name;
    std::string summary;
    std::vector<Argument> arguments = {};
    std::vector<Option> options = {};  ///< in the order of the help
    std::string footer;
    /// Runs when the command line was understood, and returns the exit code. Throws BadUsage or Error.
    std::function<int()> work;

    void add(const std::vector<Option>& more) { options.insert(options.end(), more.begin(), more.end()); }
};

}  // namespace evenstroke::cli
