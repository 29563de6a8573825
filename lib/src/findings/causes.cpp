#include <iterator>

#include "evenstroke/followup.hpp"

namespace evenstroke {

namespace {

struct Names {
    Cause cause;
    const char* name;
    const char* words;
};

constexpr Names names[] = {
    {Cause::rings, "rings", "piston rings or bore"},
    {Cause::washed, "washed", "oil film washed off the bore by fuel"},
    {Cause::intake_valve, "intake-valve", "intake valve"},
    {Cause::exhaust_valve, "exhaust-valve", "exhaust valve"},
    {Cause::clearance, "clearance", "a valve held open (no clearance, or sticking)"},
    {Cause::head_gasket, "head-gasket", "head gasket or a crack"},
    {Cause::gasket_between, "gasket-between", "head gasket between two cylinders"},
    {Cause::lift, "lift", "valve lift or valve timing of this cylinder"},
    {Cause::reading, "reading", "a wrong reading or a wrong cylinder number"},
    {Cause::carbon, "carbon", "carbon or oil in the chamber"},
    {Cause::sound, "nothing-in-common", "no loss that all cylinders share"},
    {Cause::worn_all, "worn-all", "wear in all cylinders"},
    {Cause::washed_all, "washed-all", "all bores washed by fuel"},
    {Cause::valve_timing, "valve-timing", "valve timing"},
    {Cause::throttle, "throttle", "throttle closed or intake blocked during the measurement"},
    {Cause::battery, "battery", "battery"},
    {Cause::starter, "starter", "starter or its leads"},
    {Cause::drag, "drag", "mechanical drag"},
    {Cause::intake_leak, "intake-leak", "air leaking into the intake"},
    {Cause::valves, "valves", "valves of an unidentified cylinder"},
    {Cause::exhaust_restriction, "exhaust-restriction", "restricted exhaust"},
    {Cause::oil_wear, "oil-wear", "oil pump or bearings"},
    {Cause::oil_sender, "oil-sender", "oil pressure sender or gauge"},
    {Cause::oil_relief, "oil-relief", "oil relief valve, or oil too thick"},
    {Cause::oil_elsewhere, "oil-elsewhere",
     "oil rings, valve stem seals, ventilation or a leak to the outside"},
};
static_assert(std::size(names) == cause_count);

const Names& entry(Cause cause) {
    return names[static_cast<std::size_t>(cause)];
}

}  // namespace

const char* words(Cause cause) {
    return entry(cause).words;
}

const char* name(Cause cause) {
    return entry(cause).name;
}

std::vector<Cause> Causes::list() const {
    std::vector<Cause> all;
    for (const Names& candidate : names)
        if (has(candidate.cause)) all.push_back(candidate.cause);
    return all;
}

const char* name(Strength strength) {
    switch (strength) {
        case Strength::hint:
            return "hint";
        case Strength::supported:
            return "supported";
        case Strength::strong:
            break;
    }
    return "strong";
}

const char* name(Rival::Standing standing) {
    switch (standing) {
        case Rival::Standing::possible:
            return "possible";
        case Rival::Standing::pointed_at:
            return "pointed at";
        case Rival::Standing::conflicting:
            return "conflicting";
        case Rival::Standing::removed:
            break;
    }
    return "removed";
}

const char* name(FollowUpOutcome outcome) {
    switch (outcome) {
        case FollowUpOutcome::sound:
            return "sound";
        case FollowUpOutcome::suspect:
            return "suspect";
        case FollowUpOutcome::inconclusive:
            break;
    }
    return "inconclusive";
}

}  // namespace evenstroke
