#include "output.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <csignal>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <utility>

#include "evenstroke/error.hpp"
#include "option_values.hpp"

namespace evenstroke::cli {

namespace {

constexpr mode_t usual_mode = 0666;

// Temporaries to be removed when a signal ends the program. Fixed storage: a handler may not allocate.
constexpr std::size_t most_temporaries = 8;
constexpr std::size_t longest_path = 4096;
std::array<std::array<char, longest_path>, most_temporaries> temporaries{};

void remember(const std::string& path) {
    for (auto& slot : temporaries)
        if (slot[0] == '\0' && path.size() < longest_path) {
            std::copy(path.begin() + 1, path.end(), slot.begin() + 1);
            slot[path.size()] = '\0';
            slot[0] = path[0];
            return;
        }
}

void forget(const std::string& path) {
    for (auto& slot : temporaries)
        if (path == slot.data()) slot[0] = '\0';
}

extern "C" void remove_temporaries(int signal_number) {
    for (const auto& slot : temporaries)
        if (slot[0] != '\0') unlink(slot.data());
    std::signal(signal_number, SIG_DFL);
    std::raise(signal_number);
}

[[noreturn]] void cannot_write(const std::string& path, int reason) {
    std::string remedy = "choose a file in a folder that you may write to";
    if (reason == ENOSPC || reason == EFBIG || reason == EDQUOT) remedy = "make room, or choose another disk";
    if (reason == ENOENT || reason == ENOTDIR) remedy = "create the folder first, or choose another";
    throw Error(ErrorCode::cannot_write, path == "-" ? "standard output" : path,
                std::string("cannot be written (") + std::strerror(reason) + ")", remedy);
}

void write_all(int descriptor, std::string_view text, const std::string& path) {
    while (!text.empty()) {
        const ssize_t written = ::write(descriptor, text.data(), text.size());
        if (written < 0 && errno == EINTR) continue;
        if (written < 0 && errno == EPIPE && path == "-") throw ReaderGone{};
        if (written < 0) cannot_write(path, errno);
        text.remove_prefix(static_cast<std::size_t>(written));
    }
}

/// The path with links resolved; as given when nothing is there yet.
std::string resolved(const std::string& path) {
    char* real = realpath(path.c_str(), nullptr);
    std::string result = real != nullptr ? real : path;
    std::free(real);
    return result;
}

/// What is at a path, or behind a standard stream for "-"; false when nothing is.
bool found_at(const std::string& path, struct stat& found, int standard_stream) {
    return (path == "-" ? fstat(standard_stream, &found) : stat(path.c_str(), &found)) == 0;
}

/// Whether two paths lead to one file; "-" as the first is `first_stream`, as the second standard output.
/// Devices and pipes may be written twice.
bool same_file(const std::string& a, const std::string& b, int first_stream = STDOUT_FILENO) {
    struct stat one {};
    struct stat other {};
    const bool both = found_at(a, one, first_stream) && found_at(b, other, STDOUT_FILENO);
    if (both) return S_ISREG(one.st_mode) && one.st_dev == other.st_dev && one.st_ino == other.st_ino;
    // What is not there yet has a place all the same.
    std::error_code failure;
    const auto place = [&failure](const std::string& path) {
        return std::filesystem::weakly_canonical(std::filesystem::absolute(path), failure);
    };
    return a == b || (a != "-" && b != "-" && place(a) == place(b) && !failure);
}

/// The mode a new file would get: what `umask` leaves, or that of the file it replaces.
mode_t mode_for(const struct stat* existing) {
    if (existing != nullptr) return existing->st_mode & 07777;
    const mode_t mask = umask(0);
    umask(mask);
    return usual_mode & ~mask;
}

}  // namespace

void guard_streams() {
    // Wrong direction on purpose: what is read from or written to a closed stream fails, as it should.
    for (const auto& [descriptor, flags] :
         {std::pair{STDIN_FILENO, O_WRONLY}, {STDOUT_FILENO, O_RDONLY}, {STDERR_FILENO, O_RDONLY}})
        if (fcntl(descriptor, F_GETFD) == -1) (void)!open("/dev/null", flags);
    std::signal(SIGPIPE, SIG_IGN);
    std::signal(SIGXFSZ, SIG_IGN);
    for (const int end : {SIGINT, SIGTERM, SIGHUP})
        if (std::signal(end, remove_temporaries) == SIG_IGN) std::signal(end, SIG_IGN);
}

void write_stdout(std::string_view text) {
    write_all(STDOUT_FILENO, text, "-");
}

Output::Output(std::string path) : path_(std::move(path)) {
    if (is_stdout()) return;
    target_ = resolved(path_);
    struct stat existing {};
    const bool exists = stat(target_.c_str(), &existing) == 0;
    if (!exists && errno != ENOENT) cannot_write(path_, errno);
    if (exists && S_ISDIR(existing.st_mode)) cannot_write(path_, EISDIR);
    if (exists && access(target_.c_str(), W_OK) != 0) cannot_write(path_, errno);
    if (exists && !S_ISREG(existing.st_mode)) {
        descriptor_ = open(target_.c_str(), O_WRONLY | O_CLOEXEC);
        if (descriptor_ < 0) cannot_write(path_, errno);
        return;
    }
    temporary_ = target_ + ".part-XXXXXX";
    descriptor_ = mkostemp(temporary_.data(), O_CLOEXEC);
    if (descriptor_ < 0) {
        const int reason = errno;
        temporary_.clear();
        cannot_write(path_, reason);
    }
    remember(temporary_);
    (void)fchmod(descriptor_, mode_for(exists ? &existing : nullptr));
}

Output::Output(Output&& other) noexcept
    : path_(std::move(other.path_)),
      target_(std::move(other.target_)),
      temporary_(std::exchange(other.temporary_, {})),
      descriptor_(std::exchange(other.descriptor_, -1)) {}

Output::~Output() {
    if (descriptor_ >= 0) close(descriptor_);
    if (temporary_.empty()) return;
    unlink(temporary_.c_str());
    forget(temporary_);
}

void Output::write(std::string_view text) {
    write_all(is_stdout() ? STDOUT_FILENO : descriptor_, text, path_);
}

void Output::commit() {
    if (descriptor_ < 0) return;
    // close() reports what some file systems only find out late.
    if (close(std::exchange(descriptor_, -1)) != 0) cannot_write(path_, errno);
    if (temporary_.empty()) return;
    if (rename(temporary_.c_str(), target_.c_str()) != 0) cannot_write(path_, errno);
    forget(temporary_);
    temporary_.clear();
}

void check_distinct(const std::vector<Input>& inputs, const std::vector<std::string>& outputs) {
    if (std::count(outputs.begin(), outputs.end(), "-") > 1)
        throw BadUsage("only one document can go to standard output: give \"-\" once");
    for (std::size_t i = 0; i < outputs.size(); ++i) {
        for (const Input& input : inputs)
            if (outputs[i] != "-" && same_file(input.path, outputs[i], STDIN_FILENO))
                throw Error(ErrorCode::cannot_write, outputs[i],
                            std::string("this is the ") + input.kind + " itself",
                            "choose another file for the result");
        for (std::size_t j = 0; j < i; ++j)
            if (same_file(outputs[j], outputs[i]))
                throw BadUsage("two documents would be written to " + outputs[i] + ": name a file for each");
    }
}

}  // namespace evenstroke::cli
