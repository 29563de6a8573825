// One row a recording, for `batch`.
#include <fmt/core.h>

#include "csv_cell.hpp"
#include "decimals.hpp"
#include "evenstroke/render.hpp"
#include "known.hpp"

namespace evenstroke {

namespace {

using render::cell;

/// The columns before those of the positions, in the order in which `fixed_cells` writes them.
constexpr const char* fixed_columns =
    "path,outcome,headline,channel,quantity,reference,cylinders,weak,low,unsure,lowest_pct,speed_rpm,cycles,"
    "start_s,settled_s,end_s,ended_by,inrush_a,mean_a,resting_v,lowest_v,mean_v,notices";
constexpr int fixed_count = 23;
constexpr const char* error_columns = "error_code,error";

/// Which got this word: "cylinder 3; cylinder 5".
std::string labels(const Analysis& a, Verdict verdict) {
    const auto names = cylinder_names(a.angle, a.layout);
    std::string text;
    for (std::size_t i = 0; i < a.findings.verdicts.size() && i < names.size(); ++i)
        if (a.findings.verdicts[i] == verdict) text += (text.empty() ? "" : "; ") + names[i].label;
    return text;
}

std::string notice_codes(const Recording& recording, const Analysis& a) {
    std::string text;
    for (const Notice& notice : render::all_notices(recording, a))
        text += (text.empty() ? "" : " ") + notice.code;
    return text;
}

std::optional<double> lowest_pct(const Contribution& contribution) {
    std::optional<double> lowest;
    for (const auto& c : contribution.cylinders)
        if (c.contribution_pct) lowest = std::min(lowest.value_or(*c.contribution_pct), *c.contribution_pct);
    return lowest;
}

std::string fixed_cells(const Recording& recording, const Analysis& a, bool judged) {
    const auto& c = a.cranking;
    const auto when = [&c](double time_s) { return c.no_cranking ? std::string() : cell(time_s, 6); };
    const bool turned = !c.no_cranking && !a.angle.no_reference;
    std::string out = cell(recording.path);
    const auto add = [&out](const std::string& text) { out += ',' + text; };
    add(name(a.findings.outcome));
    add(cell(a.findings.headline));
    add(cell(a.trace.channel));
    add(name(a.trace.quantity));
    add(turned ? name(a.angle.kind) : "");
    add(std::to_string(a.layout.cylinders()));
    for (const Verdict verdict : {Verdict::weak, Verdict::low, Verdict::unsure})
        add(cell(labels(a, verdict)));
    add(judged ? cell(lowest_pct(a.contribution), 1) : "");
    const auto speed_rpm = mean_speed_rpm(a.angle, a.contribution);
    add(turned && speed_rpm ? cell(*speed_rpm, 2) : "");
    add(turned ? std::to_string(a.angle.cycles) : "");
    add(when(c.start_s));
    add(when(c.settled_s));
    add(when(c.end_s));
    add(c.no_cranking ? "" : name(c.ended_by));
    add(cell(render::in_unit(a.trace, "A", c.inrush_a), render::decimals_of_current(c.inrush_a)));
    add(cell(render::in_unit(a.trace, "A", c.mean_a), render::decimals_of_current(c.mean_a)));
    add(cell(render::in_unit(a.trace, "V", c.resting_v), 3));
    add(cell(render::in_unit(a.trace, "V", c.lowest_v), 3));
    add(cell(render::in_unit(a.trace, "V", c.mean_v), 3));
    add(cell(notice_codes(recording, a)));
    return out;
}

}  // namespace

std::string batch_csv_header(int most_cylinders) {
    std::string out = fixed_columns;
    for (int i = 1; i <= most_cylinders; ++i)
        out += fmt::format(",position_{0}_pct,position_{0}_low_pct,position_{0}_high_pct", i);
    return out + ',' + error_columns + '\n';
}

std::string batch_csv_row(const Recording& recording, const Analysis& a, int most_cylinders) {
    const bool judged = !why_not(a.cranking, a.angle, a.contribution);
    std::string out = fixed_cells(recording, a, judged);
    for (int i = 0; i < most_cylinders; ++i) {
        const auto position = static_cast<std::size_t>(i);
        const auto c = judged && position < a.contribution.cylinders.size()
                           ? a.contribution.cylinders[position]
                           : CylinderContribution{};
        out += fmt::format(",{},{},{}", cell(c.contribution_pct, 1), cell(c.low_pct, 1), cell(c.high_pct, 1));
    }
    return out + ",,\n";
}

std::string batch_csv_refusal(const std::string& path, const Error& error, int most_cylinders) {
    const auto empty_cells = static_cast<std::size_t>(fixed_count - 1 + 3 * most_cylinders);
    const std::string place = error.place().empty() ? "" : error.place() + ": ";
    const std::string remedy = error.remedy().empty() ? "" : "; " + error.remedy();
    return cell(path) + std::string(empty_cells, ',') + ',' + name(error.code()) + ',' +
           cell(place + error.what() + remedy) + '\n';
}

}  // namespace evenstroke
