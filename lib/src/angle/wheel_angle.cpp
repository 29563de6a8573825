#include "wheel_angle.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "cranking/speed_span.hpp"
#include "trace/wheel_edges.hpp"
#include "values/slow_words.hpp"
#include "wheel.hpp"
#include "wheel_zero.hpp"

namespace evenstroke::angle {

namespace {

/// No starter turns for longer than some tens of seconds. What is fitted to each compression by itself takes
/// time with the cube of the turns, so of more only so many turns and teeth are used.
constexpr std::size_t most_turns = 120;
constexpr std::size_t most_edges = 20'000;
/// The share of them that may lie before the settled part.
constexpr std::size_t run_up_part = 4;

struct Source {
    std::string channel;
    std::vector<Edge> edges;
};

Source source_of(const Recording& recording, const Trace& trace, const ReferenceOptions& options) {
    if (trace.quantity == Quantity::wheel) return {trace.channel, wheel_edges(trace)};
    const std::vector<ChannelLook> looks = look(recording);
    if (options.sync) {
        const std::size_t named = find_channel(recording, *options.sync);
        if (looks[named].quantity == Quantity::wheel)
            return {recording.channels[named].name, wheel_edges(recording, recording.channels[named])};
    }
    for (std::size_t i = 0; i < looks.size(); ++i)
        if (looks[i].quantity == Quantity::wheel)
            return {recording.channels[i].name, wheel_edges(recording, recording.channels[i])};
    throw Error(ErrorCode::unusable, recording.path, "no channel looks like a toothed wheel",
                "omit --wheel, or name the wheel with --sync (with --channel and --quantity wheel to analyse "
                "the wheel itself)");
}

void keep_within(std::vector<Edge>& edges, const Cranking& cranking) {
    std::erase_if(edges, [&cranking](const Edge& edge) {
        return edge.time_s < cranking.start_s - 1e-9 || edge.time_s > cranking.end_s + 1e-9;
    });
}

/// Keeps not more than `most_marks` teeth, from the run-up to the settled part on.
void shorten(std::vector<Edge>& edges, std::size_t most_marks, double settled_s) {
    const std::size_t most = 2 * most_marks;  // a rising and a falling edge each
    if (edges.size() <= most) return;
    const auto settled = std::find_if(edges.begin(), edges.end(),
                                      [settled_s](const Edge& edge) { return edge.time_s >= settled_s; });
    const auto before =
        std::min<std::ptrdiff_t>(settled - edges.begin(), static_cast<std::ptrdiff_t>(most / run_up_part));
    const auto first = std::min(settled - before, edges.end() - static_cast<std::ptrdiff_t>(most));
    edges = std::vector<Edge>(first, first + static_cast<std::ptrdiff_t>(most));
}

/// Says which part of the cranking was used.
Notice long_cranking(const std::vector<Edge>& edges) {
    return {
        "long-cranking",
        fmt::format("A long cranking: only the teeth from {:.1f} to {:.1f} s were analysed. Choose another "
                    "part with --from and --to.",
                    edges.front().time_s, edges.back().time_s)};
}

WheelPattern pattern_of(const Recording& recording, const std::vector<Edge>& edges, int cylinders,
                        const ReferenceOptions& options, std::vector<Notice>& notices) {
    if (options.wheel) return *options.wheel;
    const auto found = recognise_wheel(edges, cylinders);
    if (!found)
        throw Error(ErrorCode::bad_option, recording.path,
                    "the wheel's pattern was not given and is not clear from its teeth",
                    "give it with --wheel, as in --wheel 60-2 (teeth-missing), 24-0 (even), or a list of "
                    "degrees from tooth to tooth; check the number of cylinders, by whose compressions "
                    "the turns are counted; with fewer than four teeth from one compression to the next a "
                    "wheel is too coarse to compare cylinders by, and the starter current is the "
                    "thing to record");
    notices.push_back(
        {"wheel-recognised",
         fmt::format("The wheel was taken as {} from its teeth{}; give --wheel if that is wrong.",
                     found->text,
                     found->text.ends_with("-0")
                         ? fmt::format(", counted by the compressions of {} cylinders", cylinders)
                         : "")});
    return *found;
}

void measure_speed(const Cranking& cranking, CrankAngle& angle) {
    const auto& time_s = angle.time_s;
    const std::size_t last = time_s.size() - 1;
    const auto turned_from = [&](double from_s) {
        const auto at = std::lower_bound(time_s.begin(), time_s.end(), from_s - 1e-9);
        return angle.angle_deg[last] -
               angle.angle_deg[std::min(static_cast<std::size_t>(at - time_s.begin()), last - 1)];
    };
    const double settled_deg = turned_from(cranking.settled_s);
    angle.cycles = static_cast<int>(std::floor(settled_deg / cycle_deg + 1e-9));
    const double cycle_s = (time_s[last] - cranking.settled_s) * cycle_deg / settled_deg;
    const double turned =
        turned_from(cranking::speed_from_s(cranking.start_s, cranking.settled_s, time_s[last], cycle_s));
    // Whole cycles if there are any, else a whole turn, else what there is: in a short recording a part of a
    // cycle, in which the crank is slow or fast, would count for much.
    const double whole =
        turned >= cycle_deg ? cycle_deg * std::floor(turned / cycle_deg + 1e-9) : std::min(turned, turn_deg);
    const double start_angle = angle.angle_deg[last] - whole;
    const auto begin = std::lower_bound(angle.angle_deg.begin(), angle.angle_deg.end(), start_angle - 1e-6);
    const auto i = static_cast<std::size_t>(begin - angle.angle_deg.begin());
    angle.speed_rpm = (angle.angle_deg[last] - angle.angle_deg[i]) / 6 / (time_s[last] - time_s[i]);
}

/// Why the teeth cannot come from a cranked engine: no starter turns so slowly, so the unit of time is wrong.
std::optional<std::string> too_slow(const WheelTeeth& teeth) {
    const double turned_deg = teeth.angle_deg.back() - teeth.angle_deg.front();
    const double rpm = turned_deg / 6 / (teeth.time_s.back() - teeth.time_s.front());
    return slower_than_a_starter("the wheel", rpm);
}

}  // namespace

CrankAngle reference_by_wheel(const Recording& recording, const Trace& trace, const Cranking& cranking,
                              const EngineLayout& layout, const ReferenceOptions& options) {
    CrankAngle angle;
    angle.kind = ReferenceKind::wheel;
    Source source = source_of(recording, trace, options);
    angle.channel = source.channel;
    std::vector<Edge>& edges = source.edges;
    keep_within(edges, cranking);
    // A load is folded over all its cycles, however many; only the wheel's own analysis must be held short.
    const bool analysed = trace.quantity == Quantity::wheel;
    const std::size_t all = edges.size();
    if (analysed) shorten(edges, most_edges, cranking.settled_s);
    // An even wheel's teeth are counted by the ripple, which is regular only where the firings are.
    const int even_cylinders = layout.fires_evenly() ? layout.cylinders() : 0;
    const WheelPattern pattern = pattern_of(recording, edges, even_cylinders, options, angle.notices);
    if (analysed) shorten(edges, most_turns * pattern.pitch_deg.size(), cranking.settled_s);
    if (edges.size() < all) angle.notices.push_back(long_cranking(edges));
    const auto teeth = align_teeth(edges, pattern);
    if (!teeth || teeth->angle_deg.back() - teeth->angle_deg.front() < turn_deg - 1e-6) {
        angle.no_reference = "the wheel does not turn once while the engine is being cranked";
        return angle;
    }
    angle.no_reference = too_slow(*teeth);
    if (angle.no_reference) return angle;
    angle.time_s = teeth->time_s;
    angle.angle_deg = teeth->angle_deg;
    angle.notices.push_back(
        {"wheel-edges", fmt::format("The {} edges of the teeth of \"{}\" were used: "
                                    "their pitch is the more regular.",
                                    teeth->rising ? "rising" : "falling", angle.channel)});
    if (teeth->missed + teeth->extra > 0)
        angle.notices.push_back(
            {"teeth-repaired",
             fmt::format("{} missing and {} surplus edges were repaired; if there are many, check --wheel "
                         "{} and the sensor's air gap.",
                         teeth->missed, teeth->extra, pattern.text)});
    place_zero(recording, pattern, options, angle);
    measure_speed(cranking, angle);
    return angle;
}

}  // namespace evenstroke::angle
