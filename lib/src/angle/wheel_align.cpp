// Which edge is which tooth: of all ways to lay the pattern over the edges, the one with the smoothest speed.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <numeric>

#include "angle/wheel.hpp"

namespace evenstroke {

namespace {

/// What a repair (one tooth bridged, or one edge left out) costs, in units of |change of ln(speed)|. A tooth
/// that is truly missing costs 2 ln 2 = 1.39 when it is not bridged. On coarse wheels one compression can
/// double a period, so that repairs must be dearer there.
constexpr double repair_cost = 1.0;
constexpr double coarse_repair_cost = 2.0;
constexpr double coarse_pitch_deg = 20.0;
/// What one edge left out before the first or after the last tooth costs: the sensor chatters while the
/// crank rocks at rest.
constexpr double outer_edge_cost = 0.5;
constexpr std::size_t most_outer_edges = 24;
constexpr std::size_t kept_edges = most_outer_edges;  // and more than the longest step
constexpr double unreached = std::numeric_limits<double>::infinity();

struct Step {
    int edges;
    int teeth;
};
constexpr std::array<Step, 5> steps = {{{1, 1}, {1, 2}, {2, 1}, {1, 3}, {3, 1}}};

/// Index into `steps`; the last: the path begins here. What a change of speed costs at the next edge depends
/// on the step before, so the best path of each kind is kept: where all pitches are alike, the one that
/// bridges a missing tooth is dearer until the next tooth shows that the other had halved the speed.
using StepIndex = unsigned char;
constexpr StepIndex begins = steps.size();
constexpr std::size_t kinds = steps.size() + 1;

struct Node {
    double cost = unreached;
    double log_speed = 0;
};

/// The shortest run of pitches that, repeated, gives the pattern.
std::size_t period_of(const std::vector<double>& pitch_deg) {
    const std::size_t teeth = pitch_deg.size();
    for (std::size_t period = 1; period < teeth; ++period) {
        if (teeth % period != 0) continue;
        bool same = true;
        for (std::size_t i = period; i < teeth && same; ++i)
            same = std::abs(pitch_deg[i] - pitch_deg[i - period]) < 1e-6;
        if (same) return period;
    }
    return teeth;
}

/// Laying one run of pitches over the times of one edge kind. Only the steps of every edge are kept, for the
/// way back; of the nodes as many rows as the last edges need.
class Alignment {
  public:
    Alignment(std::span<const double> time_s, std::span<const double> pitch_deg)
        : time_s_(time_s),
          pitch_deg_(pitch_deg),
          nodes_(std::min(time_s.size(), kept_edges) * pitch_deg.size() * kinds),
          steps_(time_s.size() * pitch_deg.size() * kinds, begins) {
        const double mean_pitch =
            std::accumulate(pitch_deg.begin(), pitch_deg.end(), 0.0) / static_cast<double>(pitch_deg.size());
        repair_ = mean_pitch > coarse_pitch_deg ? coarse_repair_cost : repair_cost;
        for (std::size_t edge = 0; edge < time_s.size(); ++edge)
            for (std::size_t tooth = 0; tooth < pitch_deg.size(); ++tooth) reach(edge, tooth);
    }

    [[nodiscard]] WheelTeeth best() const {
        double least = unreached;
        Place last;
        for (std::size_t skip = 0; skip < std::min(most_outer_edges, time_s_.size() - 1); ++skip)
            for (std::size_t tooth = 0; tooth < pitch_deg_.size(); ++tooth)
                for (std::size_t kind = 0; kind < kinds; ++kind) {
                    const Place place{time_s_.size() - 1 - skip, tooth, kind};
                    const double cost = node(place).cost + outer_edge_cost * static_cast<double>(skip);
                    if (cost >= least) continue;
                    least = cost;
                    last = place;
                }
        return trace_back(last, least);
    }

  private:
    /// `kind`: of the step that leads to the edge.
    struct Place {
        std::size_t edge = 0;
        std::size_t tooth = 0;
        std::size_t kind = begins;
    };

    [[nodiscard]] std::size_t index(const Place& place) const {
        return (place.edge * pitch_deg_.size() + place.tooth) * kinds + place.kind;
    }

    [[nodiscard]] const Node& node(const Place& place) const {
        return nodes_[index({place.edge % kept_edges, place.tooth, place.kind})];
    }

    [[nodiscard]] double pitch_before(std::size_t tooth, int count) const {
        double sum = 0;
        for (int i = 0; i < count; ++i) {
            tooth = (tooth + pitch_deg_.size() - 1) % pitch_deg_.size();
            sum += pitch_deg_[tooth];
        }
        return sum;
    }

    [[nodiscard]] Place before(const Place& place) const {
        const auto [edges, advance] = steps[place.kind];
        const std::size_t teeth = pitch_deg_.size();
        return {place.edge - static_cast<std::size_t>(edges),
                (place.tooth + teeth - static_cast<std::size_t>(advance) % teeth) % teeth,
                steps_[index(place)]};
    }

    void keep(const Place& place, const Node& reached) {
        nodes_[index({place.edge % kept_edges, place.tooth, place.kind})] = reached;
    }

    void reach(std::size_t edge, std::size_t tooth) {
        const double outer = outer_edge_cost * static_cast<double>(edge);
        keep({edge, tooth, begins}, {edge < most_outer_edges ? outer : unreached, 0});
        for (std::size_t kind = 0; kind < steps.size(); ++kind) {
            const auto [edges, advance] = steps[kind];
            const Place place{edge, tooth, kind};
            Node reached;
            if (edge >= static_cast<std::size_t>(edges)) {
                Place from = before(place);
                const double repair = repair_ * (edges - 1 + advance - 1);
                reached.log_speed =
                    std::log(pitch_before(tooth, advance) / (time_s_[edge] - time_s_[from.edge]));
                for (from.kind = 0; from.kind < kinds; ++from.kind) {
                    const Node& earlier = node(from);
                    const double change =
                        from.kind == begins ? 0.0 : std::abs(reached.log_speed - earlier.log_speed);
                    const double cost = earlier.cost + change + repair;
                    if (cost >= reached.cost) continue;
                    reached.cost = cost;
                    steps_[index(place)] = static_cast<StepIndex>(from.kind);
                }
            }
            keep(place, reached);
        }
    }

    [[nodiscard]] WheelTeeth trace_back(Place place, double cost) const {
        WheelTeeth found;
        double angle = 0;
        const double place_deg = pitch_before(place.tooth, static_cast<int>(place.tooth));
        while (true) {
            found.time_s.push_back(time_s_[place.edge]);
            found.angle_deg.push_back(angle);
            if (place.kind == begins) break;
            const auto [edges, advance] = steps[place.kind];
            found.extra += edges - 1;
            found.missed += advance - 1;
            angle -= pitch_before(place.tooth, advance);
            place = before(place);
        }
        std::reverse(found.time_s.begin(), found.time_s.end());
        std::reverse(found.angle_deg.begin(), found.angle_deg.end());
        // The last tooth stands `place_deg` after tooth 0: make 0 the first tooth 0 of the stretch.
        const double run_deg = std::accumulate(pitch_deg_.begin(), pitch_deg_.end(), 0.0);
        const double first = found.angle_deg.front() + place_deg;
        const double shift = place_deg - run_deg * std::ceil(first / run_deg - 1e-6);
        for (double& a : found.angle_deg) a += shift;
        found.roughness = cost / static_cast<double>(found.time_s.size());
        return found;
    }

    std::span<const double> time_s_;
    std::span<const double> pitch_deg_;
    std::vector<Node> nodes_;       ///< of the last `kept_edges` edges
    std::vector<StepIndex> steps_;  ///< of all
    double repair_ = repair_cost;
};

/// Where the extra tooth of an even wheel may stand, as a share of the even pitch.
constexpr std::array<double, 7> extra_places = {1. / 3, 2. / 3, 0.5, 0.4, 0.6, 0.25, 0.75};

/// The pattern itself, or for "12+1" the pattern with its extra tooth at each usual place.
std::vector<std::vector<double>> variants(const WheelPattern& pattern) {
    if (pattern.text.find('+') == std::string::npos) return {pattern.pitch_deg};
    std::vector<std::vector<double>> all;
    const double pitch = turn_deg / static_cast<double>(pattern.pitch_deg.size() - 1);
    for (const double place : extra_places) {
        all.push_back(pattern.pitch_deg);
        *(all.back().end() - 2) = place * pitch;
        all.back().back() = (1 - place) * pitch;
    }
    return all;
}

}  // namespace

std::optional<WheelTeeth> align_teeth(std::span<const Edge> edges, const WheelPattern& pattern) {
    std::optional<WheelTeeth> best;
    const std::size_t least_edges = std::max<std::size_t>(4, pattern.pitch_deg.size() / 2);
    for (const bool rising : {false, true}) {
        std::vector<double> time_s;
        for (const Edge& edge : edges)
            if (edge.rising == rising && (time_s.empty() || edge.time_s > time_s.back()))
                time_s.push_back(edge.time_s);
        if (time_s.size() < least_edges) continue;
        for (const auto& pitch_deg : variants(pattern)) {
            const std::size_t run = period_of(pitch_deg);
            WheelTeeth teeth = Alignment(time_s, std::span(pitch_deg).first(run)).best();
            teeth.rising = rising;
            if (teeth.time_s.size() >= least_edges && (!best || teeth.roughness < best->roughness))
                best = std::move(teeth);
        }
    }
    return best;
}

}  // namespace evenstroke
