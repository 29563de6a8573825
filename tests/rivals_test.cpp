// A loss that two kinds of fault explain about as well, on an engine of the synth (simulated).
#include <doctest/doctest.h>

#include <optional>

#include "contribution/rivals.hpp"
#include "evenstroke/analyse.hpp"
#include "evenstroke/synth.hpp"

using namespace evenstroke;

TEST_CASE("estimate: a low ratio in noise -> the interval holds what low charge would make of it too") {
    SynthOptions options;
    options.engine.layout = make_layout({}, {1, 3, 4, 2}, {}, {});
    // The cylinder number 2 fires last.
    options.engine.faults = {{.position = 3, .kind = FaultKind::ratio, .amount = 26, .neighbour = {}}};
    options.chain.rate_hz = 1000;
    options.chain.noise_a = 20;
    const SynthResult made = synthesise(options, 4);
    AnalyseOptions asked;
    asked.layout = options.engine.layout;
    asked.trace.channel = "Clamp";
    asked.reference.sync = "Sync";
    const Analysis a = analyse(made.recording, asked);
    const CylinderContribution& low = a.contribution.cylinders[3];
    CHECK(*low.low_pct <= made.truth.contribution_pct[3]);
    // The fit alone reaches from 58 to 75 %; with low charge instead, as likely, the cylinder reads 71 %.
    CHECK(*low.high_pct > 78);
    CHECK(a.findings.verdicts[3] == Verdict::low);
    // What has lost nothing has no such doubt.
    CHECK(*a.contribution.cylinders[0].low_pct > 85);
}

TEST_CASE("fit: another takes its place -> its limits hold both, and a valve that may be shut stays so") {
    using namespace contribution;
    FoundFit best, better;
    best.fit.peak = Eigen::Array3d(1, 0.6, 0.9);
    best.fit.least_ratio = Eigen::Array3d(1, 0.4, 0.9);
    best.fit.most_ratio = Eigen::Array3d(1, 0.7, 0.9);
    best.fit.maybe_shut = 2;
    better.fit.peak = Eigen::Array3d(10, 8, 9.5);
    better.fit.cost = -20;
    replace(best, better);
    CHECK(best.fit.cost == -20);
    CHECK(best.fit.least_ratio.isApprox(Eigen::Array3d(1, 0.4, 0.9)));
    CHECK(best.fit.most_ratio.isApprox(Eigen::Array3d(1, 0.8, 0.95)));
    CHECK(best.fit.maybe_shut == std::optional<std::size_t>(2));
}
