// What every stage shares when something is wrong: a refusal (Error) or a remark (Notice).
#pragma once

#include <stdexcept>
#include <string>
#include <utility>

namespace evenstroke {

/// Why the work cannot proceed. "Cannot measure" is not an error: it is a result with its reason.
enum class ErrorCode {
    cannot_open,      ///< missing file, folder instead of file, no permission
    malformed,        ///< the bytes are not what their format promises
    unsupported,      ///< a format, or a feature of one, that is not read
    unusable,         ///< well-formed, but nothing in it can be analysed (empty, constant, two samples)
    no_such_channel,  ///< a channel or sync name that the recording does not hold
    bad_engine,       ///< cylinders, order or intervals contradict each other
    bad_option,       ///< an option's value lies outside its range
    cannot_write,     ///< an output path that cannot be written, or a full disk
};

/// A refusal: what is wrong (`what()`), where (`place()`: file, line, column or sample), and what to do
/// (`remedy()`).
class Error : public std::runtime_error {
  public:
    Error(ErrorCode code, std::string place, const std::string& problem, std::string remedy)
        : std::runtime_error(problem), code_(code), place_(std::move(place)), remedy_(std::move(remedy)) {}

    [[nodiscard]] ErrorCode code() const noexcept { return code_; }
    [[nodiscard]] const std::string& place() const noexcept { return place_; }
    [[nodiscard]] const std::string& remedy() const noexcept { return remedy_; }

  private:
    ErrorCode code_;
    std::string place_;
    std::string remedy_;
};

/// Something the user should know that did not stop the analysis; the text ends in what to do about it.
struct Notice {
    std::string code;  ///< stable, lower case, words joined by '-': "clipped", "rate-too-low"
    std::string text;
};

}  // namespace evenstroke
