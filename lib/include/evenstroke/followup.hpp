// From evidence to a diagnosis: rules, rivals, conflicts, and the cheapest test that separates what is left.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "evenstroke/evidence.hpp"

namespace evenstroke {

/// What may be the matter. The first ones belong to cylinders, the others to the engine as a whole.
enum class Cause {
    rings,
    washed,  ///< fuel has washed the oil off the bore
    intake_valve,
    exhaust_valve,
    clearance,  ///< a valve held open: no clearance, or sticking
    head_gasket,
    gasket_between,  ///< head gasket between two cylinders
    lift,            ///< valve lift or timing of this cylinder: too little air gets in, or stays in
    reading,         ///< the measurement or its naming
    carbon,          ///< carbon or oil in the chamber: reads high
    sound,           ///< no loss that all cylinders share
    worn_all,
    washed_all,
    valve_timing,
    throttle,  ///< throttle closed, or intake blocked
    battery,
    starter,
    drag,  ///< something turns hard
    intake_leak,
    valves,  ///< valves, which cylinder's is not known
    exhaust_restriction,
    oil_wear,  ///< bearings or pump
    oil_sender,
    oil_relief,    ///< relief valve, or oil too thick
    oil_elsewhere  ///< oil lost though the cylinders hold air: oil rings, seals, ventilation, leaks
};
inline constexpr int cause_count = 25;

/// In plain words: "exhaust valve".
[[nodiscard]] const char* words(Cause cause);
/// Stable, for documents: "exhaust-valve".
[[nodiscard]] const char* name(Cause cause);

/// A set of causes.
struct Causes {
    std::uint32_t bits = 0;

    constexpr Causes() = default;
    template <class... More>
    constexpr explicit(sizeof...(More) == 0) Causes(Cause first, More... more)
        : bits(((1U << static_cast<unsigned>(first)) | ... | (1U << static_cast<unsigned>(more)))) {}

    [[nodiscard]] constexpr bool has(Cause cause) const { return has_any(Causes(cause)); }
    [[nodiscard]] constexpr bool has_any(Causes others) const { return (bits & others.bits) != 0; }
    [[nodiscard]] constexpr bool empty() const { return bits == 0; }
    [[nodiscard]] constexpr Causes with(Causes others) const { return from(bits | others.bits); }
    [[nodiscard]] constexpr Causes without(Causes others) const { return from(bits & ~others.bits); }
    [[nodiscard]] constexpr Causes both(Causes others) const { return from(bits & others.bits); }
    [[nodiscard]] std::vector<Cause> list() const;
    constexpr bool operator==(const Causes&) const = default;

  private:
    [[nodiscard]] static constexpr Causes from(std::uint32_t bits) {
        Causes set;
        set.bits = bits;
        return set;
    }
};

/// How much a finding weighs.
enum class Strength { hint, supported, strong };
[[nodiscard]] const char* name(Strength strength);

/// A rule that holds: for whom, and by what.
struct Match {
    std::vector<int> cylinders;         ///< empty: the engine as a whole
    std::vector<std::string> evidence;  ///< numbers with units and intervals
    bool close = false;                 ///< a figure lies close to its limit: one step weaker
    std::optional<Causes> removes;      ///< of the rule's own only these, where it depends on the evidence
};

/// One rule. A pure function from evidence to matches, and what a match means.
struct Rule {
    const char* code;
    const char* says;   ///< a sentence; {} stands for whom it is about
    const char* needs;  ///< which evidence
    Strength strength;
    bool conflict;     ///< two pieces of evidence disagree: shown as such
    Causes opens;      ///< rivals that it puts on the list
    Causes points_to;  ///< rivals that it speaks for
    Causes removes;    ///< rivals that it takes off, unless it is a hint
    const char* next;  ///< code of the test that separates them
    const char* source;
    std::vector<Match> (*find)(const Evidence& evidence);
};

/// The one table.
[[nodiscard]] std::span<const Rule> rules();

/// A test, in order of cost. Rivals of different groups give different results in it.
struct SeparatingTest {
    const char* code;
    std::string says;
    std::vector<Causes> groups;
    std::vector<const char*> cautions;  ///< codes of what can hurt someone
    /// Whether it was made already, or cannot be made on this engine. Empty cylinders: the whole engine.
    bool (*settled)(const Evidence& evidence, std::span<const int> cylinders);
};

[[nodiscard]] std::span<const SeparatingTest> separating_tests();

/// A finding with its rule's meaning.
struct JudgedFinding {
    const Rule* rule = nullptr;
    std::vector<int> cylinders;
    std::string text;
    std::vector<std::string> evidence;
    Strength strength = Strength::hint;
    Causes removes;
};

/// One rival's standing, and the codes of the findings behind it.
struct Rival {
    enum class Standing { possible, pointed_at, conflicting, removed };
    Cause cause = Cause::reading;
    Standing standing = Standing::possible;
    std::vector<std::string> by;
};
[[nodiscard]] const char* name(Rival::Standing standing);

/// What is left for one cylinder, or for the engine (empty).
struct Diagnosis {
    std::optional<int> cylinder;
    std::string text;  ///< one sentence
    std::vector<Rival> rivals;
    std::vector<std::string> next_tests;  ///< codes, cheapest first
};

enum class FollowUpOutcome { sound, suspect, inconclusive };
[[nodiscard]] const char* name(FollowUpOutcome outcome);

struct FollowUp : Judgement {
    FollowUpOutcome outcome = FollowUpOutcome::inconclusive;
    std::vector<JudgedFinding> findings;  ///< in the table's order, conflicts among them
    std::vector<Diagnosis> diagnoses;     ///< cylinders first, ascending
};

/// Applies every rule. Never throws. Rivals stay listed until evidence removes them, a hint never does; a
/// rival that one finding points to and another removes is `conflicting`. Method and sources:
/// docs/diagnosis.md.
[[nodiscard]] FollowUp follow_up(const Evidence& evidence, std::span<const Rule> table = rules());

}  // namespace evenstroke
