#include "angle/wheel_candidates.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <map>
#include <optional>

#include "signal/statistics.hpp"

namespace evenstroke {

namespace {

/// A period of an even wheel strays by less than this from those beside it. Beside an extra tooth half-way it
/// is ln 2 / 2 = 0.35, at a gap of two pitches ln 2.
constexpr double mark_step = 0.25;
/// The periods that stray at one mark: an extra tooth makes two, and those beside it.
constexpr std::size_t mark_edges = 4;
/// Marks that lie the same number of edges apart in more than this share belong to the wheel, if there are
/// so many; fewer may be faults that happen to lie alike.
constexpr double returning_share = 0.5;
constexpr std::size_t least_marks = 4;
/// A gap of two pitches strays by ln 2 = 0.69; with less than half of that it is no gap.
constexpr double least_gap_step = 0.4;
/// A gap also takes longer than either period beside it by this factor, however the speed changes; the period
/// before an extra tooth is no longer than the one before that.
constexpr double least_longer = 1.3;
/// An extra tooth makes two periods, each shorter than this share of a pitch (it stands a quarter of the
/// pitch or more from either neighbour), that together stray by less than this from those beside them.
constexpr double part_of_pitch = 0.85;
constexpr double whole_step = 0.2;
/// The usual gaps are of one or two teeth.
constexpr int most_missing = 2;
/// With fewer positions a compression, which then lies within three teeth, may look like a gap.
constexpr std::size_t least_positions = 16;
/// More than any wheel has on which a gap is worth finding: the time to lay it grows with the square.
constexpr std::size_t most_positions = 200;

/// The place of a mark among the edges, and how far it strays.
struct Mark {
    std::size_t at;
    double off;
};

std::vector<double> times_of(std::span<const Edge> edges, bool rising) {
    std::vector<double> time_s;
    for (const Edge& edge : edges)
        if (edge.rising == rising && (time_s.empty() || edge.time_s > time_s.back()))
            time_s.push_back(edge.time_s);
    return time_s;
}

std::vector<double> periods_of(std::span<const Edge> edges, bool rising) {
    const std::vector<double> time_s = times_of(edges, rising);
    std::vector<double> period_s;
    for (std::size_t i = 1; i < time_s.size(); ++i) period_s.push_back(time_s[i] - time_s[i - 1]);
    return period_s;
}

/// After how many edges the marks return; nothing when they do not.
std::optional<std::size_t> returning(const std::vector<Mark>& marks) {
    if (marks.size() < least_marks) return {};
    std::map<std::size_t, std::size_t> spacings;
    for (std::size_t i = 1; i < marks.size(); ++i) ++spacings[marks[i].at - marks[i - 1].at];
    const auto most = std::max_element(spacings.begin(), spacings.end(),
                                       [](const auto& a, const auto& b) { return a.second < b.second; });
    if (static_cast<double>(most->second) <= returning_share * static_cast<double>(marks.size() - 1))
        return {};
    return most->first;
}

std::vector<Mark> gaps(const std::vector<double>& period_s) {
    std::vector<Mark> marks;
    for (std::size_t i = 1; i + 1 < period_s.size(); ++i) {
        const double off = stray(period_s[i - 1], period_s[i], period_s[i + 1]);
        const double beside_s = std::max(period_s[i - 1], period_s[i + 1]);
        if (off > least_gap_step && period_s[i] > least_longer * beside_s) marks.push_back({i, off});
    }
    return marks;
}

std::vector<Mark> extra_teeth(const std::vector<double>& period_s) {
    std::vector<Mark> marks;
    for (std::size_t i = 2; i + 3 < period_s.size(); ++i) {
        // Two teeth between two gaps are no pitch that an extra tooth parts.
        if (period_s[i - 1] > least_longer * period_s[i - 2]) continue;
        if (period_s[i + 2] > least_longer * period_s[i + 3]) continue;
        const double pitch_s = std::sqrt(period_s[i - 1] * period_s[i + 2]);
        const double off = std::log((period_s[i] + period_s[i + 1]) / pitch_s);
        if (std::abs(off) < whole_step && std::max(period_s[i], period_s[i + 1]) < part_of_pitch * pitch_s)
            marks.push_back({i, off});
    }
    return marks;
}

bool fits(std::size_t positions) {
    return positions >= least_positions && positions <= most_positions;
}

std::optional<std::string> with_gap(const std::vector<double>& period_s) {
    const std::vector<Mark> marks = gaps(period_s);
    const auto teeth = returning(marks);
    if (!teeth) return {};
    std::vector<double> off;
    for (std::size_t i = 1; i < marks.size(); ++i)
        if (marks[i].at - marks[i - 1].at == *teeth) off.push_back(marks[i].off);
    const auto missing = static_cast<int>(std::lround(std::exp(signal::median(off)))) - 1;
    const std::size_t positions = *teeth + static_cast<std::size_t>(std::max(missing, 0));
    if (missing < 1 || missing > most_missing || !fits(positions)) return {};
    return fmt::format("{}-{}", positions, missing);
}

std::optional<std::string> with_extra(const std::vector<double>& period_s) {
    const auto teeth = returning(extra_teeth(period_s));
    if (!teeth || !fits(*teeth - 1)) return {};
    return fmt::format("{}+1", *teeth - 1);
}

}  // namespace

double stray(double before, double at, double after) {
    return std::log(at / std::sqrt(before * after));
}

bool marked(std::span<const Edge> edges, bool rising) {
    const std::vector<double> period_s = periods_of(edges, rising);
    std::vector<Mark> marks;
    for (std::size_t i = 1; i + 2 < period_s.size(); ++i) {
        const double off = stray(period_s[i - 1], period_s[i], period_s[i + 1]);
        if (std::abs(off) > mark_step && (marks.empty() || i >= marks.back().at + mark_edges))
            marks.push_back({i, off});
    }
    return returning(marks).has_value();
}

std::optional<std::string> wheel_shown(std::span<const Edge> edges, bool rising) {
    const std::vector<double> period_s = periods_of(edges, rising);
    // A gap first: two teeth after it, as the crank slows down, may look like one and an extra one.
    const auto shown = with_gap(period_s);
    return shown ? shown : with_extra(period_s);
}

}  // namespace evenstroke
