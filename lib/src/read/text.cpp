#include "read/text.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <memory>
#include <numeric>
#include <optional>
#include <set>
#include <string_view>

#include "evenstroke/error.hpp"
#include "read/cells.hpp"
#include "read/edges.hpp"
#include "read/finish.hpp"
#include "read/records.hpp"
#include "read/row.hpp"
#include "read/rows.hpp"
#include "read/table.hpp"
#include "signal/statistics.hpp"
#include "values/words.hpp"

namespace evenstroke::reading {

namespace {

/// The first block: enough for the longest line, some thousand rows, and the preamble above them.
constexpr std::size_t head_bytes = max_record_bytes + 4096;
/// Stamps that the step is fitted to.
constexpr std::size_t most_times_fitted = 10'000;
/// Below this rate the unit of an unnamed time is doubtful: a scope export in ms reads as seconds.
constexpr double doubtful_rate_hz = 200;
/// So is an edge list's whose busiest channel changes less often: a wheel of two teeth at 60 rpm changes
/// every quarter of a second.
constexpr double doubtful_edge_interval_s = 0.5;

constexpr std::string_view utf8_mark = "\xEF\xBB\xBF";
constexpr std::string_view utf16_little_mark = "\xFF\xFE";
constexpr std::string_view utf16_big_mark = "\xFE\xFF";

/// The head of a file, the whole of it when `complete`.
struct Head {
    std::string bytes;
    bool complete = false;
};

Head read_head(ByteSource& source) {
    Head head;
    head.bytes = read_up_to(source, head_bytes);
    head.complete = head.bytes.size() < head_bytes;
    return head;
}

void refuse_binary(const std::string& head, const std::string& name) {
    std::size_t odd = 0;
    for (const char c : head) {
        const auto byte = static_cast<unsigned char>(c);
        if (byte == 0)
            throw Error(ErrorCode::unsupported, name, "this is neither text nor a known audio container",
                        "export the capture as CSV, or as WAV or FLAC; text must not hold NUL bytes");
        odd += byte < 0x20 && byte != '\t' && byte != '\n' && byte != '\r' && byte != '\f' ? 1 : 0;
    }
    constexpr std::size_t most_odd_share = 50;  // one byte in 50: a stray control character is no harm
    if (odd * most_odd_share > head.size())
        throw Error(ErrorCode::unsupported, name, "this is neither text nor a known audio container",
                    "export the capture as CSV, or as WAV or FLAC");
}

std::vector<HeadLine> complete_lines(RecordReader& reader, bool complete, std::string& storage) {
    std::vector<HeadLine> lines;
    std::vector<std::pair<std::size_t, std::size_t>> places;
    while (const auto record = reader.next()) {
        if (!record->terminated && !complete) break;
        places.emplace_back(storage.size(), record->line);
        storage.append(record->text);
    }
    for (std::size_t i = 0; i < places.size(); ++i) {
        const std::size_t end = i + 1 < places.size() ? places[i + 1].first : storage.size();
        lines.push_back(
            {std::string_view(storage).substr(places[i].first, end - places[i].first), places[i].second});
    }
    return lines;
}

/// What the first block says about time.
struct TimePlan {
    StampResolution resolution;
    TimeFit fit;
    bool edge_list = false;
};

TimePlan plan_time(const std::vector<HeadLine>& lines, const Table& table, const std::string& name) {
    TimePlan plan;
    RowParser parser(table, name);
    std::vector<double> times;
    bool digits_only = true;  // 0 and 1
    std::vector<LevelPair> levels(table.value_columns.size());
    bool two_levels = true;
    bool always_changes = true;
    std::vector<float> before;
    for (const HeadLine& line : lines) {
        if (line.line < table.first_data_line) continue;
        if (times.size() >= most_times_fitted) break;
        const Record record{line.text, line.line, line.line != lines.back().line};
        if (parser.cut_off(record)) break;
        try {
            if (!parser.parse(record)) continue;
        } catch (const Error&) {
            break;  // told when the rows are read in earnest
        }
        times.push_back(parser.time);
        plan.resolution.see(parser.time_text);
        for (std::size_t i = 0; i < parser.samples.size(); ++i) {
            const float sample = parser.samples[i];
            if (std::isnan(sample)) continue;
            digits_only = digits_only && (sample == 0 || sample == 1);
            two_levels = levels[i].take(sample) && two_levels;
        }
        always_changes = always_changes && parser.samples != before;
        before = parser.samples;
    }
    plan.fit = fit_times(times, plan.resolution);
    // A row for every change, or levels at uneven times: transitions, not samples. Two values other than 0
    // and 1 may also be the noise of a channel at rest, which does not change in every row.
    const bool any_level =
        std::any_of(levels.begin(), levels.end(), [](const LevelPair& l) { return l.any(); });
    plan.edge_list = two_levels && any_level && times.size() > 2 && plan.fit.step > 0 &&
                     (digits_only ? always_changes || !plan.fit.even : always_changes && !plan.fit.even);
    if (table.interval_s && plan.fit.quantised) {
        constexpr double same_step_ratio = 0.05;
        const double step = *table.interval_s / table.time_factor;
        if (std::abs(step / plan.fit.step - 1) < same_step_ratio) plan.fit.step = step;
    }
    return plan;
}

std::string describe(const Table& table) {
    std::string text = "text, ";
    switch (table.dialect.delimiter) {
        case '\t':
            text += "tab";
            break;
        case ';':
            text += "semicolon";
            break;
        case ',':
            text += "comma";
            break;
        case '|':
            text += "vertical bar";
            break;
        default:
            text += "blanks";
            break;
    }
    if (table.dialect.decimal == ',') text += ", decimal comma";
    if (!table.time_column && table.interval_s)
        text += ", rate by line " + std::to_string(table.interval_line);
    return text;
}

/// Channels are told by name, whatever its case.
class UniqueNames {
  public:
    /// The name, with a number behind it when an earlier channel has it already.
    std::string next(const std::string& name) {
        int& number = last_number_.try_emplace(lower(name), 1).first->second;
        std::string unique = name;
        while (!taken_.insert(lower(unique)).second) unique = fmt::format("{} #{}", name, ++number);
        return unique;
    }

  private:
    std::set<std::string> taken_;
    std::map<std::string, int> last_number_;  ///< that was tried behind each name
};

Recording begin_recording(const Table& table, const std::string& name) {
    Recording recording;
    recording.path = name;
    recording.format = describe(table);
    recording.notices = table.notices;
    UniqueNames names;
    for (std::size_t i = 0; i < table.value_columns.size(); ++i) {
        const ColumnTitle& title = table.titles[table.value_columns[i]];
        Channel channel;
        channel.name = names.next(title.name.empty() ? "Channel " + std::to_string(i + 1) : title.name);
        channel.unit = title.unit;
        recording.channels.push_back(std::move(channel));
    }
    return recording;
}

/// Calls `take` for every data row.
template <typename Take>
void for_rows(RecordReader& reader, const Table& table, RowParser& parser, Recording& recording, Take take) {
    while (const auto record = reader.next()) {
        if (record->line < table.first_data_line) continue;
        if (!record->terminated && parser.cut_off(*record)) {
            recording.notices.push_back(
                {"last-row-incomplete",
                 fmt::format(
                     "line {} is incomplete and was left out; if the file was cut short, export it again",
                     record->line)});
            return;
        }
        if (parser.parse(*record)) take(*record);
    }
}

/// Usual time between the edges of the busiest channel; empty where there are hardly any.
std::optional<double> usual_edge_interval_s(const Recording& recording) {
    const auto busiest =
        std::max_element(recording.channels.begin(), recording.channels.end(),
                         [](const Channel& a, const Channel& b) { return a.edges.size() < b.edges.size(); });
    if (busiest == recording.channels.end() || busiest->edges.size() < 3) return {};
    std::vector<double> intervals_s;
    for (std::size_t i = 1; i < busiest->edges.size(); ++i)
        intervals_s.push_back(busiest->edges[i].time_s - busiest->edges[i - 1].time_s);
    return signal::median(std::move(intervals_s));
}

/// Contacts bounce now and then; where the times are too coarse, edge upon edge shares its stamp.
void refuse_coarse_times(const EdgeStore& store, const Recording& recording, const std::string& name) {
    constexpr double most_shared_ratio = 0.05;
    constexpr std::size_t least_pulses = 5;  // fewer are bounce even in a short list
    for (std::size_t i = 0; i < store.edges.size(); ++i) {
        const std::size_t sharing = 2 * store.short_pulses[i];
        const std::size_t seen = store.edges[i].size() + sharing;
        const double ratio = seen > 0 ? static_cast<double>(sharing) / static_cast<double>(seen) : 0;
        if (store.short_pulses[i] >= least_pulses && ratio > most_shared_ratio)
            throw Error(ErrorCode::unusable,
                        fmt::format("{}, channel \"{}\"", name, recording.channels[i].name),
                        fmt::format("{} of {} edges share their time with another: the times are too coarse",
                                    sharing, seen),
                        "export the time with more digits");
    }
}

Recording read_edges(RecordReader& reader, const Table& table, const std::string& name) {
    Recording recording = begin_recording(table, name);
    recording.format += ", edge list";
    RowParser parser(table, name);
    EdgeStore store(table.value_columns.size());
    std::size_t rows = 0;
    double last_s = 0;
    for_rows(reader, table, parser, recording, [&](const Record& record) {
        const std::string place = name + ":" + std::to_string(record.line);
        const double time_s = parser.time * table.time_factor;
        if (rows > 0 && time_s < last_s)
            throw Error(ErrorCode::malformed, place,
                        "time goes backwards to " + std::string(parser.time_text),
                        "sort the rows by time, or keep one capture only");
        switch (store.push_row(time_s, parser.samples)) {
            case EdgeStore::Verdict::taken:
                break;
            case EdgeStore::Verdict::third_level:
                throw Error(ErrorCode::malformed, place, "an edge list with a third level in one channel",
                            "export two levels a channel, or sample the channel evenly");
            case EdgeStore::Verdict::full:
                throw Error(ErrorCode::unsupported, place, fmt::format("more than {} edges", max_edges),
                            "cut the file to the part in which the engine is cranked");
        }
        if (rows++ == 0) recording.start_s = time_s;
        last_s = time_s;
    });
    refuse_too_short(rows, "rows", name);
    recording.duration_s = last_s - recording.start_s;
    refuse_coarse_times(store, recording, name);
    for (std::size_t i = 0; i < store.edges.size(); ++i) {
        recording.channels[i].edges = std::move(store.edges[i]);
    }
    const std::size_t short_pulses =
        std::accumulate(store.short_pulses.begin(), store.short_pulses.end(), std::size_t{0});
    if (short_pulses > 0)
        recording.notices.push_back(
            {"edges-at-once",
             fmt::format(
                 "{} pulse{} shorter than the times can show (two edges of one channel at one time) {} "
                 "left out as bounce; export the time with more digits",
                 short_pulses, short_pulses == 1 ? "" : "s", short_pulses == 1 ? "was" : "were")});
    const auto interval_s = usual_edge_interval_s(recording);
    if (!table.time_unit_known && !table.time_is_date && interval_s.value_or(0) > doubtful_edge_interval_s)
        recording.notices.push_back(
            {"time-unit-assumed",
             fmt::format(
                 "the time column names no unit; seconds were assumed, which gives an edge every {:.4g} "
                 "s; if it is in milliseconds, title it \"Time (ms)\", in microseconds \"Time (us)\"",
                 *interval_s)});
    return recording;
}

Recording read_with_time(RecordReader& reader, const Table& table, const std::string& name,
                         const ReadOptions& options, const TimePlan& plan) {
    Recording recording = begin_recording(table, name);
    RowParser parser(table, name);
    const bool advances = plan.fit.step > 0;
    const double expected_rate_hz = advances ? 1 / (plan.fit.step * table.time_factor) : options.keep_rate_hz;
    if (advances)
        refuse_absurd_rate(expected_rate_hz, table.value_columns.size(),
                           fmt::format("{}, column {}", name, *table.time_column + 1),
                           "correct the times, or the unit in their title, as in \"Time (ms)\"");
    SampleStore store(table.value_columns.size(), reduction_factor(expected_rate_hz, options.keep_rate_hz),
                      options.most_values);
    GridRows grid(plan.fit, plan.resolution);
    for_rows(reader, table, parser, recording, [&](const Record& record) {
        grid.push(parser.time, parser.samples, {name, record.line, parser.time_text}, store);
    });
    refuse_too_short(grid.rows(), "rows", name);
    const bool by_line = plan.fit.quantised && table.interval_s && !grid.resampled();
    const double step_s = (by_line ? plan.fit.step : grid.step(store)) * table.time_factor;
    if (!(step_s > 0))
        throw Error(ErrorCode::malformed, name, "the time is the same in every row",
                    "export the capture with its times, or leave the time column out and give --rate HZ");
    recording.recorded_rate_hz = whole_rate_hz(1 / step_s, grid.rate_uncertainty_ratio());
    recording.start_s = table.time_is_date ? 0 : grid.first() * table.time_factor;
    if (grid.resampled())
        recording.notices.push_back(
            {"resampled",
             fmt::format("the rows are unevenly spaced in time; they were put on an even base of "
                         "{} samples/s by linear interpolation; if the scope can, export "
                         "evenly sampled data",
                         plain(recording.recorded_rate_hz, 6))});
    if (grid.missing_rows() > 0)
        recording.notices.push_back(
            {"rows-missing",
             (grid.missing_rows() == 1
                  ? "1 row is missing, judging by the times; it was bridged as a gap"
                  : fmt::format("{} rows are missing, judging by the times; they were bridged as gaps",
                                grid.missing_rows())) +
                 std::string("; export again without leaving rows out")});
    if (options.rate_hz)
        recording.notices.push_back(
            {"rate-ignored", fmt::format("the file has a time column: it was used ({} samples/s), not --rate",
                                         plain(recording.recorded_rate_hz, 6))});
    if (!table.time_unit_known && !table.time_is_date && recording.recorded_rate_hz < doubtful_rate_hz)
        recording.notices.push_back(
            {"time-unit-assumed",
             fmt::format("the time column names no unit; seconds were assumed, which gives {} samples/s; if "
                         "it is in milliseconds, title it \"Time (ms)\"",
                         plain(recording.recorded_rate_hz, 6))});
    finish_samples(store, recording, options);
    return recording;
}

Recording read_with_rate(RecordReader& reader, const Table& table, const std::string& name,
                         const ReadOptions& options) {
    Recording recording = begin_recording(table, name);
    RowParser parser(table, name);
    recording.recorded_rate_hz =
        table.interval_s ? whole_rate_hz(1 / *table.interval_s, 1e-9) : *options.rate_hz;
    if (table.interval_s && options.rate_hz)
        recording.notices.push_back(
            {"rate-ignored",
             fmt::format("a line of the file gives the rate or interval of its samples: it was used ({} "
                         "samples/s), not --rate",
                         plain(recording.recorded_rate_hz, 6))});
    if (table.interval_s)
        refuse_absurd_rate(recording.recorded_rate_hz, table.value_columns.size(),
                           fmt::format("{}:{}", name, table.interval_line),
                           "correct this line, or remove it and give --rate HZ");
    else
        refuse_absurd_rate(recording.recorded_rate_hz, table.value_columns.size(), "--rate",
                           "give the rate in samples per second, as in --rate 10000");
    SampleStore store(table.value_columns.size(),
                      reduction_factor(recording.recorded_rate_hz, options.keep_rate_hz),
                      options.most_values);
    for_rows(reader, table, parser, recording, [&](const Record&) { store.push_row(parser.samples); });
    refuse_too_short(store.samples(), "rows", name);
    finish_samples(store, recording, options);
    return recording;
}

Recording read_utf8(const Head& head, ByteSource* rest, const std::string& name, const ReadOptions& options,
                    std::size_t piece_bytes) {
    std::string_view text = head.bytes;
    if (text.starts_with(utf8_mark)) text.remove_prefix(utf8_mark.size());
    if (text.empty()) throw Error(ErrorCode::unusable, name, "the file is empty", "export the capture again");
    refuse_binary(head.bytes, name);
    const char line_end = find_line_end(text);

    PrefixedBytes head_only(text, nullptr);
    RecordReader head_reader(head_only, name, line_end, head_bytes);
    std::string storage;
    const auto lines = complete_lines(head_reader, head.complete, storage);
    if (lines.empty())
        throw Error(ErrorCode::malformed, name + ":1", "a line of more than 256 KiB",
                    "this is not a table of samples with one row per line; export the capture as CSV");
    const Table table = find_table(lines, name, options.rate_hz);

    PrefixedBytes all(text, head.complete ? nullptr : rest);
    RecordReader reader(all, name, line_end, piece_bytes);
    if (!table.time_column) return read_with_rate(reader, table, name, options);
    const TimePlan plan = plan_time(lines, table, name);
    if (plan.edge_list) return read_edges(reader, table, name);
    return read_with_time(reader, table, name, options, plan);
}

}  // namespace

Recording read_table(ByteSource& source, const std::string& name, const ReadOptions& options,
                     std::size_t piece_bytes) {
    const Head head = read_head(source);
    const bool little = head.bytes.starts_with(utf16_little_mark);
    if (!little && !head.bytes.starts_with(utf16_big_mark))
        return read_utf8(head, &source, name, options, piece_bytes);
    PrefixedBytes wide(std::span(head.bytes).subspan(utf16_little_mark.size()),
                       head.complete ? nullptr : &source);
    Utf16Bytes narrow(wide, !little);
    const Head narrow_head = read_head(narrow);
    return read_utf8(narrow_head, &narrow, name, options, piece_bytes);
}

}  // namespace evenstroke::reading
