// One fault of each kind that the sanitizers' build must stop at: proof that its checks are on.
#include <Eigen/Core>
#include <limits>
#include <string>
#include <vector>

namespace {

int beyond_heap(int argc) {
    const std::vector<int> three(3, argc);
    return three.data()[static_cast<std::size_t>(argc) + 1];
}

int after_free(int argc) {
    const int* freed = nullptr;
    {
        const std::vector<int> one(1, argc);
        freed = one.data();
    }
    return *freed;
}

int overflow(int argc) {
    return std::numeric_limits<int>::max() - 1 + argc;
}

int beyond_vector(int argc) {
    return std::vector<int>(2, argc)[static_cast<std::size_t>(argc)];
}

int beyond_matrix(int argc) {
    return Eigen::VectorXi::Constant(2, argc)[argc];
}

}  // namespace

int main(int argc, char** argv) {
    const std::string fault = argc > 1 ? argv[1] : "";
    if (fault == "beyond-heap") return beyond_heap(argc);
    if (fault == "after-free") return after_free(argc);
    if (fault == "signed-overflow") return overflow(argc);
    if (fault == "beyond-vector") return beyond_vector(argc);
    if (fault == "beyond-matrix") return beyond_matrix(argc);
    return 0;  // the test expects a failure
}
