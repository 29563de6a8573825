#include "measures.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "signal/statistics.hpp"

namespace evenstroke::findings {

const CylinderReadings* readings_of(const Evidence& e, int cylinder) {
    for (const auto& readings : e.sheet.cylinders)
        if (readings.cylinder == cylinder) return &readings;
    return nullptr;
}

std::vector<int> cylinders_of(const Evidence& e) {
    std::set<int> all;
    for (const auto& readings : e.sheet.cylinders) all.insert(readings.cylinder);
    for (const auto& recording : e.recordings)
        for (const auto& c : recording.cylinders)
            if (c.cylinder) all.insert(*c.cylinder);
    return {all.begin(), all.end()};
}

std::vector<const RecordedCylinder*> recorded(const Evidence& e, int cylinder) {
    std::vector<const RecordedCylinder*> found;
    for (const auto& recording : e.recordings)
        for (const auto& c : recording.cylinders)
            if (c.cylinder == cylinder) found.push_back(&c);
    return found;
}

bool all_even(const RecordedEngine& recording) {
    return !recording.cylinders.empty() &&
           std::all_of(recording.cylinders.begin(), recording.cylinders.end(),
                       [](const auto& c) { return c.verdict == Verdict::even; });
}

bool recorded_as(const Evidence& e, int cylinder, Verdict verdict) {
    if (verdict == Verdict::even && std::any_of(e.recordings.begin(), e.recordings.end(), all_even))
        return true;
    const auto all = recorded(e, cylinder);
    return std::any_of(all.begin(), all.end(), [=](const auto* c) { return c->verdict == verdict; });
}

std::optional<double> highest_dry_kpa(const Evidence& e) {
    std::optional<double> highest;
    for (const auto& readings : e.sheet.cylinders)
        if (readings.dry_kpa) highest = std::max(highest.value_or(0), readings.dry_kpa->value);
    return highest;
}

std::optional<double> dry_ratio_pct(const Evidence& e, int cylinder) {
    const auto* readings = readings_of(e, cylinder);
    const auto count = std::count_if(e.sheet.cylinders.begin(), e.sheet.cylinders.end(),
                                     [](const auto& r) { return r.dry_kpa.has_value(); });
    const auto highest = highest_dry_kpa(e);
    if (count < 2 || readings == nullptr || !readings->dry_kpa || !(*highest > 0)) return std::nullopt;
    return 100 * readings->dry_kpa->value / *highest;
}

State ratio_state(const Evidence& e, int cylinder) {
    const auto ratio = dry_ratio_pct(e, cylinder);
    if (!ratio) return State::unknown;
    if (const auto& maker = e.sheet.engine.maker_ratio_pct)
        return below(*ratio, maker->value) ? State::weak : State::sound;
    if (below(*ratio, least_ratio_pct)) return State::weak;
    return below(*ratio, usual_ratio_pct) ? State::between : State::sound;
}

std::optional<double> floor_kpa(const Evidence& e) {
    if (e.sheet.engine.maker_lowest_kpa) return e.sheet.engine.maker_lowest_kpa->value;
    if (e.sheet.engine.fuel == Fuel::diesel) return std::nullopt;
    return least_compression_kpa;
}

bool below_floor(const Evidence& e, int cylinder) {
    const auto* readings = readings_of(e, cylinder);
    const auto floor = floor_kpa(e);
    return readings != nullptr && readings->dry_kpa && floor && below(readings->dry_kpa->value, *floor);
}

State gauge_state(const Evidence& e, int cylinder) {
    const auto* readings = readings_of(e, cylinder);
    if (readings == nullptr || !readings->dry_kpa) return State::unknown;
    if (below_floor(e, cylinder)) return State::weak;
    const State by_ratio = ratio_state(e, cylinder);
    if (by_ratio != State::unknown) return by_ratio;
    return floor_kpa(e) ? State::sound : State::unknown;  // a single reading: only the floor can tell
}

bool is_suspect(const Evidence& e, int cylinder) {
    if (recorded_as(e, cylinder, Verdict::weak) || ratio_state(e, cylinder) == State::weak) return true;
    const auto all = cylinders_of(e);
    return below_floor(e, cylinder) && std::any_of(all.begin(), all.end(), [&](int other) {
               return gauge_state(e, other) == State::sound || gauge_state(e, other) == State::between;
           });
}

std::vector<int> suspects(const Evidence& e) {
    std::vector<int> found;
    for (const int cylinder : cylinders_of(e))
        if (is_suspect(e, cylinder)) found.push_back(cylinder);
    return found;
}

bool compresses(const Evidence& e, int cylinder) {
    return gauge_state(e, cylinder) == State::sound || recorded_as(e, cylinder, Verdict::even);
}

State leak_state(const Evidence& e, int cylinder) {
    const auto* readings = readings_of(e, cylinder);
    if (readings == nullptr || !readings->leak_down_pct) return State::unknown;
    const double loss = readings->leak_down_pct->value;
    if (const auto& maker = e.sheet.engine.maker_leak_down_pct)
        return below(maker->value, loss) ? State::weak : State::sound;
    if (below(loss, leak_good_pct)) return State::sound;
    return below(leak_acceptable_pct, loss) ? State::weak : State::between;
}

bool heard(const Evidence& e, int cylinder, AirPath path) {
    const auto* readings = readings_of(e, cylinder);
    if (readings == nullptr || !readings->air_heard) return false;
    return std::find(readings->air_heard->begin(), readings->air_heard->end(), path) !=
           readings->air_heard->end();
}

std::optional<double> wet_rise_pct(const Evidence& e, int cylinder) {
    const auto* readings = readings_of(e, cylinder);
    if (e.sheet.engine.fuel == Fuel::diesel || readings == nullptr || !readings->wet_kpa ||
        !readings->dry_kpa || !(readings->dry_kpa->value > 0))
        return std::nullopt;
    return 100 * (readings->wet_kpa->value / readings->dry_kpa->value - 1);
}

std::optional<double> usual_wet_rise_pct(const Evidence& e) {
    std::vector<double> rises;
    for (const int cylinder : cylinders_of(e))
        if (gauge_state(e, cylinder) == State::sound && !is_suspect(e, cylinder))
            if (const auto rise = wet_rise_pct(e, cylinder)) rises.push_back(*rise);
    if (rises.empty()) return std::nullopt;
    return signal::median(rises);
}

std::optional<double> slowest_rpm(const Evidence& e) {
    std::optional<double> slowest;
    for (const auto& r : e.recordings)
        if (r.speed_rpm && r.outcome != Outcome::inconclusive)
            slowest = std::min(slowest.value_or(*r.speed_rpm), *r.speed_rpm);
    return slowest;
}

std::optional<double> cranking_v(const Evidence& e) {
    std::optional<double> lowest;
    if (e.sheet.engine.battery_cranking_v) lowest = e.sheet.engine.battery_cranking_v->value;
    for (const auto& r : e.recordings)
        if (r.cranking_v) lowest = std::min(lowest.value_or(*r.cranking_v), *r.cranking_v);
    return lowest;
}

std::optional<double> resting_v(const Evidence& e) {
    for (const auto& r : e.recordings)
        if (r.resting_v) return r.resting_v;
    if (const auto& written = e.sheet.engine.battery_resting_v) return written->value;
    return std::nullopt;
}

std::string dry_words(const Evidence& e, int cylinder) {
    const auto* readings = readings_of(e, cylinder);
    std::string text = fmt::format("cylinder {}: dry {}", cylinder, readings->dry_kpa->written);
    if (const auto ratio = dry_ratio_pct(e, cylinder)) {
        // Both readings repeat to a few percent: the ratio to the root of two of that.
        const double margin = std::sqrt(2.0) * gauge_repeat_pct / 100 * *ratio;
        text += fmt::format(", {:.0f} % of the highest ({:.0f} to {:.0f} %)", *ratio, *ratio - margin,
                            std::min(100.0, *ratio + margin));
    }
    return text;
}

std::string limit_words(const Evidence& e) {
    std::string text;
    if (const auto& maker = e.sheet.engine.maker_ratio_pct)
        text = fmt::format("maker's limit {} of the highest", maker->written);
    else
        text = fmt::format("limits {:g} and {:g} % of the highest", usual_ratio_pct, least_ratio_pct);
    if (const auto& maker = e.sheet.engine.maker_lowest_kpa)
        text += fmt::format(", at least {} (maker)", maker->written);
    else if (floor_kpa(e))
        text += ", at least 100 psi (690 kPa) at sea level, about 3 % less for each 300 m of height";
    return text;
}

std::string leak_words(const Evidence& e, int cylinder) {
    const auto* readings = readings_of(e, cylinder);
    std::string text = fmt::format("cylinder {}: leak-down ", cylinder);
    text += readings->leak_down_pct ? readings->leak_down_pct->written : "not measured";
    if (readings->air_heard) {
        std::string places;
        for (const AirPath path : *readings->air_heard)
            places += (places.empty() ? "" : ", ") + std::string(name(path));
        text += ", air heard: " + (places.empty() ? "nowhere" : places);
    }
    return text;
}

std::string recorded_words(const RecordedEngine& recording, const RecordedCylinder& c) {
    std::string text = fmt::format("{} in {}: ", c.label, recording.path);
    if (!c.contribution_pct) return text + "not measured";
    return text + fmt::format("{:.0f} % of the highest ({:.0f} to {:.0f} %), {}", c.contribution_pct->value,
                              c.contribution_pct->low, c.contribution_pct->high, name(c.verdict));
}

std::string subject(const std::vector<int>& cylinders) {
    if (cylinders.empty()) return "the engine";
    if (cylinders.size() == 1) return fmt::format("cylinder {}", cylinders.front());
    std::string text = "cylinders ";
    for (std::size_t i = 0; i < cylinders.size(); ++i) {
        if (i > 0) text += i + 1 == cylinders.size() ? " and " : ", ";
        text += fmt::format("{}", cylinders[i]);
    }
    return text;
}

}  // namespace evenstroke::findings
