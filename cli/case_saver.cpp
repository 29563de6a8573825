#include "case_saver.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <chrono>
#include <ctime>
#include <filesystem>

#include "evenstroke/case_file.hpp"
#include "text_file.hpp"

namespace evenstroke::cli {

namespace {

/// The moment in UTC, ISO 8601.
std::string now_text() {
    const std::time_t now = std::chrono::system_clock::to_time_t(std::chrono::system_clock::now());
    std::tm utc{};
    gmtime_r(&now, &utc);
    std::array<char, sizeof "2026-01-31T12:34:56Z"> text{};
    (void)std::strftime(text.data(), text.size(), "%Y-%m-%dT%H:%M:%SZ", &utc);
    return text.data();
}

/// What is there already; empty when nothing is. An empty file is no case: something may have been lost.
std::string existing_case(const std::string& path) {
    struct stat found {};
    if (stat(path.c_str(), &found) != 0) return {};
    if (!S_ISREG(found.st_mode))
        throw Error(ErrorCode::cannot_write, path, "this is not a file", "name a file for --save");
    if (found.st_size == 0)
        throw Error(ErrorCode::malformed, path, "the case file is empty",
                    "remove it to start a new case, or restore it");
    return read_text_file(path);
}

}  // namespace

CaseSaver::CaseSaver(const std::string& path) : path_(path) {
    if (path_.empty()) return;
    if (path_ == "-")
        throw Error(ErrorCode::bad_option, "--save", "a case cannot be standard output", "name a file");
    (void)add_to_case(existing_case(path_), path_, {}, {});
    output_.emplace(path_);
}

CaseSaver::~CaseSaver() {
    if (folder_ >= 0) close(folder_);
}

void CaseSaver::add(std::span<const std::string> documents) {
    if (!output_) return;
    std::error_code failure;
    const auto target = std::filesystem::weakly_canonical(path_, failure);
    const std::string folder = failure ? "." : target.parent_path().string();
    folder_ = open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (folder_ >= 0) (void)flock(folder_, LOCK_EX);
    output_->write(add_to_case(existing_case(path_), path_, documents, now_text()));
}

void CaseSaver::commit() {
    if (output_) output_->commit();
}

}  // namespace evenstroke::cli
