// What one in-cylinder pressure transducer says about one cylinder of a cranked or motored engine.
// Method, assumptions and sources: docs/pressure.md.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "evenstroke/engine.hpp"
#include "evenstroke/figure.hpp"
#include "evenstroke/recording.hpp"

namespace evenstroke {

/// What the transducer's zero is said to be.
enum class PressureZero { automatic, absolute, gauge };

/// What the user may say. Lengths and ratio that are not given are not known.
struct PressureOptions {
    std::optional<std::string> channel;  ///< name or number
    std::optional<double> scale;         ///< kPa per recorded unit; full scale in kPa for audio
    double offset_kpa = 0;               ///< added after scaling
    PressureZero zero = PressureZero::automatic;
    std::optional<double> from_s;
    std::optional<double> to_s;
    std::optional<double> bore_m;
    std::optional<double> stroke_m;
    std::optional<double> rod_m;
    std::optional<double> compression_ratio;
    std::optional<double> altitude_m;    ///< of the place; sets the ambient pressure
    std::optional<double> bandwidth_hz;  ///< of the transducer, first order; its lag is then taken off
    std::optional<double> expect_intake_closes_deg;  ///< after firing TDC, so negative
    std::optional<double> expect_exhaust_opens_deg;
};

/// Pressures are absolute unless the name says gauge.
struct PressurePulse {
    double peak_s = 0;  ///< vertex of the top
    std::optional<double> peak_kpa;
    std::optional<double> tdc_s;
    std::optional<double> tdc_low_s;  ///< 95 % interval
    std::optional<double> tdc_high_s;
    std::optional<double> peak_angle_deg;  ///< before TDC is negative
    std::optional<double> speed_rpm;       ///< at TDC
    bool used = false;                     ///< counted in the figures: whole, and the engine had settled
};

/// What a recording turned out to hold.
enum class PressureKind { motored, staircase, fired, nothing };

[[nodiscard]] const char* name(PressureKind kind);

/// What the compressions show without a model or dimensions: medians over those that count.
struct BarePressure {
    std::size_t count = 0;      ///< compressions behind it
    double gauge_peak_kpa = 0;  ///< above the level of the exhaust stroke
    double undershoot_ratio =
        0;  ///< how far the pressure falls below that level after the peak, over the peak
    double intake_drop_kpa = 0;  ///< how far the intake stroke stands below the exhaust stroke
    double level_off_kpa = 0;    ///< the exhaust stroke's distance from where the zero should put it
};

/// The mean of the used cycles, one value a crank degree from -360 to 359 after firing TDC.
struct PressureCycle {
    std::vector<std::optional<double>> pressure_kpa;  ///< absolute; empty where no sample fell
    std::vector<double> volume_cm3;                   ///< none without geometry
};

struct Pressure {
    PressureKind kind = PressureKind::nothing;
    std::string channel;
    std::string unit;  ///< as recorded
    double rate_hz = 0;
    double start_s = 0;
    std::vector<float> kpa;  ///< readings as scaled, upright, without drift; the offset is still in them
    std::optional<float> floor_kpa;  ///< of `kpa`: the transducer or its range shows nothing below
    std::vector<Span> bridged;       ///< runs of `kpa` that the recording lacks: straight lines, ascending
    bool gauge = false;              ///< readings are above ambient: stated, or seen
    double ambient_kpa = 0;          ///< assumed, or from the altitude
    Geometry geometry;               ///< used; assumed where `geometry_known` is false
    bool geometry_known = false;
    bool ratio_known = false;
    std::vector<PressurePulse> pulses;  ///< in time order
    /// From here on the engine ran down or ran; empty when it was cranked to the recording's end.
    std::optional<double> driven_until_s;
    std::optional<Figure> peak_kpa;         ///< mean of the used pulses
    std::optional<double> peak_sd_kpa;      ///< cycle to cycle
    std::optional<Figure> speed_rpm;        ///< mean over whole cycles
    std::optional<double> speed_least_rpm;  ///< lowest and highest within a cycle, near TDC
    std::optional<double> speed_most_rpm;
    std::optional<double> first_pulse_ratio;  ///< first gauge peak over the mean of the used ones
    std::optional<Figure> sensor_offset_kpa;  ///< reading less true, on the stated or seen zero
    std::optional<Figure> compression_exponent;
    std::optional<Figure> expansion_exponent;
    std::optional<Figure> loss_angle_deg;     ///< from the peak on to TDC: positive
    std::optional<Figure> compression_ratio;  ///< as given, without a width, or as fitted
    std::optional<Figure> leak_mm2;           ///< effective area: discharge coefficient included
    /// gauge peak over the one that the same charge would reach without any leak: what the leak costs
    std::optional<Figure> sealed_ratio;
    std::optional<Figure> trapped_ratio;  ///< trapped charge over what fills the cylinder at ambient
    std::optional<double> intake_closes_deg;
    std::optional<double> exhaust_opens_deg;
    std::optional<Figure> intake_closes_interval_deg;  ///< 95 %, together with the value
    std::optional<Figure> exhaust_opens_interval_deg;
    std::optional<double> intake_kpa;   ///< plateau of the intake stroke, absolute
    std::optional<double> exhaust_kpa;  ///< plateau of the exhaust stroke, absolute
    std::optional<double> lag_s;        ///< taken off for a slow transducer
    PressureCycle cycle;
    std::vector<double> puffs_kpa_gauge;      ///< a check-valve gauge's steps, each after its puff
    std::optional<double> gauge_reading_kpa;  ///< the highest of these: where a gauge that holds ends
    /// The gauge stood for the time of three more compressions than its puffs show.
    bool puffs_stood = false;
    /// Crank angle against time, ascending; 0, 720, 1440 … at firing TDCs. Empty when not known.
    std::vector<double> knot_s, knot_deg;
    std::optional<double> misfit_ratio;  ///< mean square of the fit's residuals over what was expected
    /// How far the fit had to pull the most surprising of its unknowns, in sds of what was expected of it.
    std::optional<double> strain_sd;
    std::optional<BarePressure> bare;         ///< empty where the tops are clipped
    std::optional<std::string> unfitted;      ///< why nothing that rests on the fit is given
    std::optional<std::string> inconclusive;  ///< why nothing can be said about the cylinder
    /// Behind one of these may be a leak that comes and goes, or one to a neighbouring cylinder.
    bool leak_possible = false;
    std::vector<Notice> notices;

    /// Whether the model was fitted, so that TDC is known.
    [[nodiscard]] bool tdc_known() const { return !knot_s.empty(); }
    /// Whether the compression ratio was found: none was given, or the pressure contradicts what was.
    [[nodiscard]] bool ratio_fitted() const {
        return compression_ratio && compression_ratio->low < compression_ratio->high;
    }
    [[nodiscard]] double time_s(std::size_t sample) const {
        return start_s + static_cast<double>(sample) / rate_hz;
    }
    /// As Trace::sample_at().
    [[nodiscard]] std::size_t sample_at(double when_s) const {
        return evenstroke::sample_at(when_s, start_s, rate_hz, kpa.size());
    }
};

/// Ambient pressure at `altitude_m`, kPa (references: ASHRAE 1997, standard atmosphere).
[[nodiscard]] double ambient_at_kpa(double altitude_m);
/// The altitude at which that is the ambient pressure, m; `ambient_kpa` above 0.
[[nodiscard]] double altitude_of_m(double ambient_kpa);
/// The air's density over that at sea level, as printed factor tables for gauges follow it (same source).
[[nodiscard]] double air_density_ratio(double altitude_m);

/// Analyses one channel. Throws Error{no_such_channel, unusable, bad_option, bad_engine} when nothing can be
/// worked on; "cannot tell" is in the result.
[[nodiscard]] Pressure measure_pressure(const Recording& recording, const PressureOptions& options = {});

}  // namespace evenstroke
