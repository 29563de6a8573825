#include "load_bursts.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <span>

#include "signal/levels.hpp"
#include "values/cranking_limits.hpp"

namespace evenstroke::cranking {

namespace {

/// A starter draws at least this share of the usual cranking load, even while it coasts between two
/// compressions.
constexpr double engaged_ratio = 0.25;
/// A starter that coasts between humps, of which there are at least so many, draws at least this share of the
/// usual load more than rest, as it is for this time at either end of the recording.
constexpr std::size_t fewest_coasting_humps = 3;
constexpr double rest_clear_ratio = 0.1;
constexpr double rest_piece_s = 0.08;
/// Behind its last hump it coasts for so many of the longest pauses at most.
constexpr double coasting_end_pauses = 1.5;
/// Humps of one crank begin at even distances, each within this share of the middle one; nobody turns a key
/// so evenly so many times.
constexpr std::size_t fewest_regular_humps = 4;
constexpr double regular_share = 0.12;
/// The load is smoothed over this time before bursts are looked for; a coasting dip is no pause.
constexpr double smoothing_s = 0.06;
/// Pauses shorter than this belong to one burst.
constexpr double pause_s = 0.25;
/// However long the recording, its highest level lasts at least half as long as the shortest burst.
constexpr double least_cranking_s = 0.2;

/// The usual load while cranking: the median of what lies well above rest.
double cranking_level(const std::vector<float>& smooth, double rate_hz) {
    const double seconds = std::max(1.0, static_cast<double>(smooth.size()) / rate_hz);
    const double top = signal::quantile(smooth, std::max(0.98, 1 - least_cranking_s / seconds));
    std::vector<float> busy;
    for (const float v : smooth)
        if (static_cast<double>(v) > 0.2 * top) busy.push_back(v);
    return busy.empty() ? 0.0 : signal::quantile(busy, 0.5);
}

std::vector<Span> above(const std::vector<float>& smooth, double limit) {
    std::vector<Span> spans;
    for (std::size_t i = 0; i < smooth.size();) {
        if (!(static_cast<double>(smooth[i]) > limit)) {
            ++i;
            continue;
        }
        Span span{.first = i, .last = i};
        while (span.last < smooth.size() && static_cast<double>(smooth[span.last]) > limit) ++span.last;
        i = span.last;
        spans.push_back(span);
    }
    return spans;
}

/// Whether the humps come as evenly as compressions do: each at the distance of the one before, or, of a twin
/// that fires unevenly, of the last but one. The first belongs to the run-up.
bool regular(const std::vector<Span>& humps) {
    const auto step = [&](std::size_t k) { return static_cast<double>(humps[k].first - humps[k - 1].first); };
    for (const std::size_t cylinders : {1U, 2U}) {
        const std::size_t first = 2 + cylinders;
        if (humps.size() < first + fewest_regular_humps) return false;
        bool alike = true;
        for (std::size_t k = first + cylinders; k < humps.size(); ++k)
            alike = alike && std::abs(step(k) / step(k - cylinders) - 1) < regular_share;
        if (alike) return true;
    }
    return false;
}

/// A burst whose starter coasts between its humps, and the load above which it is engaged at the end.
struct Coasting {
    Span burst;
    double end_limit = 0;
};

/// Where one or two cylinders leave the starter to coast between two compressions, it draws far less than
/// over their humps, but not nothing: the humps are one burst when what flows in every pause lies clearly
/// above rest at either end of the recording, or when they come evenly.
std::optional<Coasting> coasting(const LoadView& view, const std::vector<float>& smooth, double limit) {
    const std::vector<Span> humps = above(smooth, limit);
    if (humps.size() < fewest_coasting_humps) return std::nullopt;
    const bool even = regular(humps);
    double lowest = limit;
    std::size_t longest_pause = 0;
    for (std::size_t k = 1; k < humps.size(); ++k) {
        const std::size_t pause = humps[k].first - humps[k - 1].last, hump = humps[k].last - humps[k].first;
        // One that could be a burst by itself, behind a shorter pause, is the starter used again, over
        // whatever else draws current.
        const bool again = !even && hump >= view.samples(shortest_burst_s) && hump > pause;
        if (again || pause > view.samples(longest_repeat_s)) return std::nullopt;
        const auto between = std::span(smooth).subspan(humps[k - 1].last, pause);
        lowest = std::min(lowest, static_cast<double>(*std::min_element(between.begin(), between.end())));
        longest_pause = std::max(longest_pause, pause);
    }
    const std::size_t piece = std::min(smooth.size(), view.samples(rest_piece_s));
    const double rest = std::max(0.0, std::min(signal::quantile(std::span(smooth).first(piece), 0.5),
                                               signal::quantile(std::span(smooth).last(piece), 0.5)));
    if (!even && !(lowest > rest + rest_clear_ratio * limit / engaged_ratio)) return std::nullopt;
    const double end_limit = (rest + lowest) / 2;
    const Span all{.first = humps.front().first, .last = humps.back().last};
    std::size_t released = all.last;
    while (released < smooth.size() && static_cast<double>(smooth[released]) > end_limit) ++released;
    // It coasts until the key is let go, but hardly longer than between two humps: another consumer does.
    if (static_cast<double>(released - all.last) > coasting_end_pauses * static_cast<double>(longest_pause))
        return Coasting{all, limit};
    return Coasting{{.first = all.first, .last = released}, end_limit};
}

/// Stretches above the limit, short pauses bridged, those too short to hold a settled cycle left out.
std::vector<Span> long_stretches(const LoadView& view, const std::vector<float>& smooth, double limit) {
    std::vector<Span> bursts;
    for (const Span& span : above(smooth, limit)) {
        if (!bursts.empty() && span.first - bursts.back().last < view.samples(pause_s))
            bursts.back().last = span.last;
        else
            bursts.push_back(span);
    }
    std::erase_if(bursts, [&](const Span& b) { return b.last - b.first < view.samples(shortest_burst_s); });
    return bursts;
}

}  // namespace

LoadBursts find_bursts(const LoadView& view, std::size_t from) {
    std::vector<float> smooth = signal::moving_mean(view.load, view.samples(smoothing_s));
    std::fill(smooth.begin(), smooth.begin() + static_cast<std::ptrdiff_t>(from), 0.0F);
    LoadBursts out{.level = cranking_level(smooth, view.rate_hz), .spans = {}};
    if (!(out.level > 0)) return out;
    out.limit = out.end_limit = engaged_ratio * out.level;
    if (const std::optional<Coasting> coasts = coasting(view, smooth, out.limit)) {
        out.end_limit = coasts->end_limit;
        out.spans = {coasts->burst};
    } else {
        out.spans = long_stretches(view, smooth, out.limit);
    }
    return out;
}

Span sharpened(const LoadView& view, const Span& burst, const LoadBursts& bursts) {
    const std::size_t reach = view.samples(smoothing_s);
    std::size_t first = burst.first > reach ? burst.first - reach : 0;
    while (first < burst.last && !(static_cast<double>(view.load[first]) > bursts.limit)) ++first;
    std::size_t last = std::min(view.load.size(), burst.last + reach);
    while (last > first && !(static_cast<double>(view.load[last - 1]) > bursts.end_limit)) --last;
    return {.first = first, .last = last};
}

}  // namespace evenstroke::cranking
