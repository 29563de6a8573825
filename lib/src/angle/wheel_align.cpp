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

/// Index into `steps`; `begins`: the path begins here.
using StepIndex = signed char;
constexpr StepIndex begins = -1;

struct Node {
    double cost = unreached;
    double log_speed = 0;
    StepIndex step = begins;
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
          nodes_(std::min(time_s.size(), kept_edges) * pitch_deg.size()),
          steps_(time_s.size() * pitch_deg.size(), begins) {
        const double mean_pitch =
            std::accumulate(pitch_deg.begin(), pitch_deg.end(), 0.0) / static_cast<double>(pitch_deg.size());
        repair_ = mean_pitch > coarse_pitch_deg ? coarse_repair_cost : repair_cost;
        for (std::size_t edge = 0; edge < time_s.size(); ++edge)
            for (std::size_t tooth = 0; tooth < pitch_deg.size(); ++tooth) reach(edge, tooth);
    }

    [[nodiscard]] WheelTeeth best() const {
        const std::size_t teeth = pitch_deg_.size();
        double least = unreached;
        std::size_t edge = 0;
        std::size_t tooth = 0;
        for (std::size_t skip = 0; skip < std::min(most_outer_edges, time_s_.size() - 1); ++skip)
            for (std::size_t j = 0; j < teeth; ++j) {
                const std::size_t last = time_s_.size() - 1 - skip;
                const double cost = node(last, j).cost + outer_edge_cost * static_cast<double>(skip);
                if (cost < least) {
                    least = cost;
                    edge = last;
                    tooth = j;
                }
            }
        return trace_back(edge, tooth, least);
    }

  private:
    [[nodiscard]] const Node& node(std::size_t edge, std::size_t tooth) const {
        return nodes_[edge % kept_edges * pitch_deg_.size() + tooth];
    }

    [[nodiscard]] double pitch_before(std::size_t tooth, int count) const {
        double sum = 0;
        for (int i = 0; i < count; ++i) {
            tooth = (tooth + pitch_deg_.size() - 1) % pitch_deg_.size();
            sum += pitch_deg_[tooth];
        }
        return sum;
    }

    void reach(std::size_t edge, std::size_t tooth) {
        const std::size_t teeth = pitch_deg_.size();
        Node reached;
        if (edge < most_outer_edges) reached.cost = outer_edge_cost * static_cast<double>(edge);
        for (std::size_t s = 0; s < steps.size(); ++s) {
            const auto [edges, advance] = steps[s];
            if (edge < static_cast<std::size_t>(edges)) continue;
            const std::size_t from_edge = edge - static_cast<std::size_t>(edges);
            const std::size_t back = static_cast<std::size_t>(advance) % teeth;
            const Node& from = node(from_edge, (tooth + teeth - back) % teeth);
            if (from.cost == unreached) continue;
            const double log_speed =
                std::log(pitch_before(tooth, advance) / (time_s_[edge] - time_s_[from_edge]));
            const double change = from.step == begins ? 0.0 : std::abs(log_speed - from.log_speed);
            const double cost = from.cost + change + repair_ * (edges - 1 + advance - 1);
            if (cost < reached.cost) reached = {cost, log_speed, static_cast<StepIndex>(s)};
        }
        nodes_[edge % kept_edges * teeth + tooth] = reached;
        steps_[edge * teeth + tooth] = reached.step;
    }

    [[nodiscard]] WheelTeeth trace_back(std::size_t edge, std::size_t tooth, double cost) const {
        const std::size_t teeth = pitch_deg_.size();
        WheelTeeth found;
        double angle = 0;
        const double place = pitch_before(tooth, static_cast<int>(tooth));
        while (true) {
            found.time_s.push_back(time_s_[edge]);
            found.angle_deg.push_back(angle);
            const StepIndex step = steps_[edge * teeth + tooth];
            if (step == begins) break;
            const auto [edges, advance] = steps[static_cast<std::size_t>(step)];
            found.extra += edges - 1;
            found.missed += advance - 1;
            angle -= pitch_before(tooth, advance);
            edge -= static_cast<std::size_t>(edges);
            tooth = (tooth + teeth - static_cast<std::size_t>(advance) % teeth) % teeth;
        }
        std::reverse(found.time_s.begin(), found.time_s.end());
        std::reverse(found.angle_deg.begin(), found.angle_deg.end());
        // The last tooth stands `place` degrees after tooth 0: make 0 the first tooth 0 of the stretch.
        const double run_deg = std::accumulate(pitch_deg_.begin(), pitch_deg_.end(), 0.0);
        const double first = found.angle_deg.front() + place;
        const double shift = place - run_deg * std::ceil(first / run_deg - 1e-6);
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
