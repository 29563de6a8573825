// The whole way, written once: from a recording of a cranking engine to a verdict for each cylinder.
#pragma once

#include "evenstroke/angle.hpp"
#include "evenstroke/contribution.hpp"
#include "evenstroke/cranking.hpp"
#include "evenstroke/engine.hpp"
#include "evenstroke/findings.hpp"
#include "evenstroke/quantities.hpp"
#include "evenstroke/recording.hpp"
#include "evenstroke/trace.hpp"

namespace evenstroke {

/// All that the user may say about one recording.
struct AnalyseOptions {
    EngineLayout layout;
    TraceOptions trace;
    LocateOptions cranking;
    ReferenceOptions reference;
    FindingOptions findings;
    std::optional<ReferencePeak> reference_peak = {};
};

/// Every stage's value, kept.
struct Analysis {
    EngineLayout layout;
    Trace trace;
    Cranking cranking;
    CrankAngle angle;
    Contribution contribution;
    Findings findings;
    DriveFigures drive = {};
    /// [cylinders] by position, gauge kPa; empty without AnalyseOptions::reference_peak.
    std::vector<std::optional<Figure>> peaks_kpa = {};
};

/// Runs every stage once. Throws Error where a stage cannot proceed; "cannot tell" is in the result.
[[nodiscard]] Analysis analyse(const Recording& recording, const AnalyseOptions& options);

}  // namespace evenstroke
