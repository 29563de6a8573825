// Where results go: standard output, or files that appear whole or not at all.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace evenstroke::cli {

/// The reader of standard output went away; nothing more needs to be said.
struct ReaderGone {};

/// Keeps closed standard streams from being taken by files, and turns a closed pipe, a file size limit and an
/// interrupt into ordinary ends. Called once, first.
void guard_streams();

/// Writes all of `text` to standard output. Throws ReaderGone on a closed pipe, Error{cannot_write}
/// otherwise.
void write_stdout(std::string_view text);

/// One result. A file is written to a temporary beside it and renamed by `commit`; without `commit` nothing
/// stays. "-" is standard output; a device or pipe is written as it is.
class Output {
  public:
    /// Opens the temporary: throws Error{cannot_write} when the path cannot be written.
    explicit Output(std::string path);
    Output(Output&& other) noexcept;
    Output& operator=(Output&&) = delete;
    Output(const Output&) = delete;
    Output& operator=(const Output&) = delete;
    ~Output();

    /// Throws Error{cannot_write}: a full disk.
    void write(std::string_view text);
    void commit();
    [[nodiscard]] bool is_stdout() const { return path_ == "-"; }

  private:
    std::string path_;
    std::string target_;     ///< path with links resolved
    std::string temporary_;  ///< empty for a device
    int descriptor_ = -1;
};

/// What a command reads, and what it is called in a message.
struct Input {
    std::string path;
    const char* kind = "recording";
};

/// Refuses outputs that would overwrite an input or each other, however the path to the file is written.
/// Throws Error{cannot_write} for the input, BadUsage for two outputs to one place.
void check_distinct(const std::vector<Input>& inputs, const std::vector<std::string>& outputs);

}  // namespace evenstroke::cli
