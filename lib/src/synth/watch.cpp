#include "synth/watch.hpp"

namespace evenstroke::synth {

namespace {

/// A compression's peak is complete this far after firing TDC.
constexpr double peak_done_rad = 70 * pi / 180;

}  // namespace

double signed_deg(double phase_rad) {
    const double deg = phase_rad * 180 / pi;
    return deg > cycle_deg / 2 ? deg - cycle_deg : deg;
}

void Top::follow(double pressure_pa, double now_s, double now_rad, double turned_rad, double dt_s) {
    if (before_pa > 0 && here_pa >= before_pa && here_pa > pressure_pa && here_pa > highest_pa) {
        const double part = (before_pa - pressure_pa) / (before_pa - 2 * here_pa + pressure_pa) / 2;
        highest_pa = here_pa;
        time_s = here_s + part * dt_s;
        phase_rad = here_rad + part * turned_rad;
    }
    before_pa = here_pa;
    here_pa = pressure_pa;
    here_s = now_s;
    here_rad = now_rad;
}

void Watch::after_step(Plant& plant, double before_rad, double time_s, double dt_s) {
    for (std::size_t i = 0; i < plant.cylinders.size(); ++i) {
        Cylinder& cylinder = plant.cylinders[i];
        const double was = phase_rad(cylinder, before_rad), now = phase_rad(cylinder, plant.angle_rad);
        tops_[i].follow(cylinder.gas.pressure_pa, time_s, now, (plant.angle_rad - before_rad), dt_s);
        if (was > 3 * pi && now < pi) {  // firing TDC lies within this step
            const double turned = plant.angle_rad - before_rad;
            events_.push_back({static_cast<int>(i), time_s - dt_s * now / turned, 0});
            pending_[i] = true;
        }
        if (pending_[i] && now >= peak_done_rad && now < 2 * pi) finish(plant, i);
        if (was < 3 * pi && now >= 3 * pi) {  // compression begins
            cylinder.peak_pa = 0;
            tops_[i] = {};
        }
    }
}

void Watch::finish(const Plant& plant, std::size_t i) {
    for (auto event = events_.rbegin(); event != events_.rend(); ++event) {
        if (event->position != static_cast<int>(i)) continue;
        event->peak_kpa = plant.cylinders[i].peak_pa / 1000 - plant.engine.ambient_kpa;
        if (tops_[i].highest_pa > 0) {
            event->peak_s = tops_[i].time_s;
            event->peak_angle_deg = signed_deg(tops_[i].phase_rad);
        }
        break;
    }
    if (plant.gauge && plant.gauge->cylinder == i)
        puffs_kpa_.push_back(plant.gauge->pressure_pa() / 1000 - plant.engine.ambient_kpa);
    pending_[i] = false;
}

}  // namespace evenstroke::synth
