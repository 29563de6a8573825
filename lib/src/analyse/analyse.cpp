#include "evenstroke/analyse.hpp"

#include "check_speed.hpp"

namespace evenstroke {

Analysis analyse(const Recording& recording, const AnalyseOptions& options) {
    (void)make_layout({}, options.layout.order, options.layout.intervals_deg, {});  // refuses what is none
    Analysis a{.layout = options.layout,
               .trace = {},
               .cranking = {},
               .angle = {},
               .contribution = {},
               .findings = {}};
    require_inside(recording, options.cranking);
    TraceOptions what = options.trace;
    if (!what.sync) what.sync = options.reference.sync;
    a.trace = pick(recording, what);
    LocateOptions where = options.cranking;
    if (options.reference.wheel)
        where.teeth_per_turn = static_cast<int>(options.reference.wheel->pitch_deg.size());
    a.cranking = locate(a.trace, where);
    a.angle = reference(recording, a.trace, a.cranking, a.layout, options.reference);
    check_speed(recording, a.angle);
    a.contribution = estimate(a.trace, a.cranking, a.angle, a.layout);
    a.findings = judge(a.trace, a.cranking, a.angle, a.contribution, a.layout, options.findings);
    if (a.contribution.drive) a.drive = drive_figures(a.contribution, battery_levels(recording, a.cranking));
    if (options.reference_peak) {
        a.peaks_kpa = peaks_kpa(*options.reference_peak, a.angle, a.contribution, a.layout);
        if (auto why = nothing_carried(*options.reference_peak, a.peaks_kpa, a.contribution))
            a.contribution.notices.push_back(*std::move(why));
    }
    return a;
}

}  // namespace evenstroke
