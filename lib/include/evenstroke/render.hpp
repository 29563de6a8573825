// From results to text: functions from values to strings. Nothing here writes a file.
#pragma once

#include <string>
#include <vector>

#include "evenstroke/analyse.hpp"

namespace evenstroke {

/// In lower case, words joined by '-': "cannot-open".
[[nodiscard]] const char* name(ErrorCode code);

struct TextStyle {
    int columns = 80;    ///< used between 40 and 100
    bool color = false;  ///< ANSI emphasis; nothing is said by colour alone
};

/// The summary a tired person reads: verdict, cylinders, cranking figures, notices, next test, cautions.
[[nodiscard]] std::string summary_text(const Recording& recording, const Analysis& analysis,
                                       const TextStyle& style = {});
/// What a file holds.
[[nodiscard]] std::string inspection_text(const Recording& recording, const std::vector<ChannelLook>& looks,
                                          const TextStyle& style = {});
/// The same as JSON (docs/output.md).
[[nodiscard]] std::string inspection_json(const Recording& recording, const std::vector<ChannelLook>& looks);

/// The `crank` document of docs/crank.schema.json, two-space indented, newline at the end; RFC 8259 on every
/// path.
[[nodiscard]] std::string crank_json(const Recording& recording, const Analysis& analysis);
/// The same on one line (NDJSON).
[[nodiscard]] std::string crank_json_line(const Recording& recording, const Analysis& analysis);

/// The summary as one page with pictures: HTML5 in UTF-8 that is well-formed XML too, with inline style and
/// SVG, no script and nothing from elsewhere. Its size does not grow with the recording's length.
[[nodiscard]] std::string crank_html(const Recording& recording, const Analysis& analysis);

/// What stands in the place of a result that could not be had: path and error, on one line (NDJSON).
[[nodiscard]] std::string refusal_json_line(const std::string& path, const Error& error);

/// One row a recording, for many; `most_cylinders` columns of contribution, by position.
[[nodiscard]] std::string batch_csv_header(int most_cylinders);
[[nodiscard]] std::string batch_csv_row(const Recording& recording, const Analysis& analysis,
                                        int most_cylinders);
/// The row of a recording that could not be read or analysed: its path and what `error` says.
[[nodiscard]] std::string batch_csv_refusal(const std::string& path, const Error& error, int most_cylinders);

/// RFC 4180 with LF line ends; unknown is an empty cell.
[[nodiscard]] std::string events_csv(const Analysis& analysis);  ///< one row per compression event
[[nodiscard]] std::string cycles_csv(const Analysis& analysis);  ///< cycle x cylinder
[[nodiscard]] std::string wave_csv(const Analysis& analysis);    ///< time, value, crank angle, cylinder

/// One recording's pressure with its judgement.
struct PressureReport {
    Pressure pressure;
    PressureFindings findings;
};

[[nodiscard]] std::string pressure_summary_text(const Recording& recording, const PressureReport& report,
                                                const TextStyle& style = {});
/// The `pressure` document of docs/pressure.md, two-space indented, newline at the end.
[[nodiscard]] std::string pressure_json(const Recording& recording, const PressureReport& report);
[[nodiscard]] std::string pressure_pulses_csv(const PressureReport& report);  ///< one row per compression
/// One row a sample: time, absolute pressure, crank angle, volume.
[[nodiscard]] std::string pressure_wave_csv(const PressureReport& report);
/// The mean cycle, one row a crank degree: pressure, volume and their logarithms.
[[nodiscard]] std::string pressure_cycle_csv(const PressureReport& report);

}  // namespace evenstroke
