// From results to text: functions from values to strings. Nothing here writes a file.
#pragma once

#include <string>

#include "evenstroke/analyse.hpp"

namespace evenstroke {

struct TextStyle {
    int columns = 80;
    bool color = false;  ///< ANSI emphasis; nothing is said by colour alone
};

/// The summary a tired person reads: verdict, cylinders, cranking figures, notices, next test, cautions.
[[nodiscard]] std::string summary_text(const Recording& recording, const Analysis& analysis,
                                       const TextStyle& style = {});
/// What a file holds.
[[nodiscard]] std::string inspection_text(const Recording& recording, const std::vector<ChannelLook>& looks,
                                          const TextStyle& style = {});
[[nodiscard]] std::string inspection_json(const Recording& recording, const std::vector<ChannelLook>& looks);

/// The `crank` document of docs/crank.schema.json, two-space indented, newline at the end; RFC 8259 on every
/// path.
[[nodiscard]] std::string crank_json(const Recording& recording, const Analysis& analysis);
/// The same on one line (NDJSON).
[[nodiscard]] std::string crank_json_line(const Recording& recording, const Analysis& analysis);

/// RFC 4180 with LF line ends; unknown is an empty cell.
[[nodiscard]] std::string events_csv(const Analysis& analysis);  ///< one row per compression event
[[nodiscard]] std::string cycles_csv(const Analysis& analysis);  ///< cycle x cylinder
[[nodiscard]] std::string wave_csv(const Analysis& analysis);    ///< time, value, crank angle, cylinder

}  // namespace evenstroke
