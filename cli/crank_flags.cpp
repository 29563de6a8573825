#include "crank_flags.hpp"

namespace evenstroke::cli {

namespace {

CLI::Option* add(CLI::App& command, CrankRequest& request, const CrankOption& row) {
    const std::string flag = std::string("--") + row.name;
    const auto set = [&request, &row, flag](const std::string& text) {
        try {
            row.set(request, text);
        } catch (const BadUsage& error) {
            throw CLI::ValidationError(flag + ": " + error.what());
        }
    };
    return command.add_option_function<std::string>(flag, set, row.help)->type_name(row.value);
}

}  // namespace

void add_crank_flags(CLI::App& command, CrankRequest& request) {
    for (const CrankOption& row : crank_options()) add(command, request, row)->group(row.group);
}

void add_crank_flag(CLI::App& command, CrankRequest& request, const std::string& name) {
    for (const CrankOption& row : crank_options())
        if (name == row.name) add(command, request, row);
}

}  // namespace evenstroke::cli
