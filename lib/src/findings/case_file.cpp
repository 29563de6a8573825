#include "evenstroke/case_file.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>

namespace evenstroke {

namespace {

using Json = nlohmann::ordered_json;

constexpr int case_version = 1;
/// What a command saves nests a few levels deep. What nests without end could be read, but not written again:
/// that takes room on the stack for every level.
constexpr int most_depth = 100;
constexpr const char* remedy = "name another file for --save, or restore this one; it was left as it is";

Json empty_case() {
    return {{"evenstroke_case", case_version}, {"entries", Json::array()}};
}

bool is_entry(const Json& entry) {
    return entry.is_object() && entry.contains("saved") && entry.contains("document") &&
           entry["document"].is_object();
}

Json read_case(std::string_view text, const std::string& name) {
    const auto watch_depth = [&name](int depth, Json::parse_event_t, const Json&) {
        if (depth > most_depth)
            throw Error(
                ErrorCode::malformed, name,
                "this is not a case file: it nests more than " + std::to_string(most_depth) + " levels deep",
                remedy);
        return true;
    };
    Json found;
    try {
        found = Json::parse(text, watch_depth);
    } catch (const Json::parse_error& error) {
        const auto before = text.substr(0, std::min(error.byte, text.size()));
        const auto line = 1 + std::count(before.begin(), before.end(), '\n');
        throw Error(ErrorCode::malformed, name + ":" + std::to_string(line), "this is not valid JSON",
                    remedy);
    } catch (const Json::out_of_range&) {  // 1e999
        throw Error(ErrorCode::malformed, name, "a number in this file is larger than any that can be kept",
                    remedy);
    }
    const bool ours = found.is_object() && found.contains("evenstroke_case") && found.contains("entries") &&
                      found["entries"].is_array();
    if (!ours) throw Error(ErrorCode::malformed, name, "this is not a case file", remedy);
    if (found["evenstroke_case"] != case_version)
        throw Error(ErrorCode::malformed, name, "this case file is of another version", remedy);
    if (!std::all_of(found["entries"].begin(), found["entries"].end(), is_entry))
        throw Error(ErrorCode::malformed, name, "an entry of this case file is damaged", remedy);
    return found;
}

}  // namespace

std::string add_to_case(std::string_view existing, const std::string& name,
                        std::span<const std::string> documents, const std::string& saved_at) {
    Json whole = existing.empty() ? empty_case() : read_case(existing, name);
    for (const auto& document : documents)
        whole["entries"].push_back({{"saved", saved_at}, {"document", Json::parse(document)}});
    return whole.dump(2) + "\n";
}

}  // namespace evenstroke
