// The same as main.c in C++17: the monitor as an object that owns its memory.
// Usage: monitor-cpp PLAN < SAMPLES.csv
#include <array>
#include <cstdio>
#include <cstdlib>
#include <memory>
#include <stdexcept>
#include <string>

#include "report.h"
#include "samples.h"

extern "C" void put_char(char c)
{
    std::putchar(c);
}

namespace {

void check(bm_status status, const char *why = "")
{
    if (status != BM_STATUS_OK) {
        throw std::runtime_error(std::string(bm_error_text(status)) + ": " + why);
    }
}

class Monitor {
public:
    Monitor(const std::uint8_t *plan, std::size_t length)
    {
        std::array<char, 160> why{};
        bm_setup setup{};
        setup.struct_size = sizeof setup;
        setup.abi_version = BM_ABI_VERSION;
        setup.plan = plan;
        setup.plan_length = length;
        setup.why = why.data();
        setup.why_room = why.size();
        check(bm_monitor_create(memory_.data(), memory_.size(), &setup, &monitor_), why.data());
    }

    // A monitor must not move: neither must its owner.
    Monitor(const Monitor &) = delete;
    Monitor &operator=(const Monitor &) = delete;

    ~Monitor()
    {
        bm_monitor_destroy(monitor_);
    }

    bm_update update(const bm_sample &sample)
    {
        bm_update update{};
        update.struct_size = sizeof update;
        check(bm_monitor_update(monitor_, &sample, &update));
        return update;
    }

    bm_summary summary()
    {
        bm_summary summary{};
        summary.struct_size = sizeof summary;
        check(bm_monitor_summary(monitor_, &summary));
        return summary;
    }

private:
    alignas(BM_MONITOR_ALIGN) std::array<std::uint8_t, BM_MONITOR_ROOM> memory_{};
    bm_monitor *monitor_ = nullptr;
};

void run(const char *path)
{
    std::size_t length = 0;
    const std::unique_ptr<std::uint8_t, decltype(&std::free)> plan(read_file(path, &length), std::free);
    const int joints = read_header(stdin);
    if (plan == nullptr || joints < 0) {
        throw std::runtime_error("no plan, or standard input is no recording");
    }
    const auto monitor = std::make_unique<Monitor>(plan.get(), length);
    curve_digest curve = curve_digest_start();
    bm_sample sample;
    check(bm_sample_init(&sample, static_cast<std::uint32_t>(joints)));
    sample.flags |= BM_SAMPLE_VELOCITY;
    int got;
    while ((got = read_sample(stdin, joints, &sample)) == 1) {
        const bm_update update = monitor->update(sample);
        curve_digest_add(&curve, &update);
        if (update.has_finding) {
            report_finding(&update.finding);
        }
    }
    if (got < 0) {
        throw std::runtime_error("standard input: a line that is no sample");
    }
    report_curve(&curve);
    const bm_summary summary = monitor->summary();
    report_summary(&summary);
}

} // namespace

int main(int argc, char **argv)
{
    if (argc != 2) {
        std::fprintf(stderr, "usage: %s PLAN < SAMPLES.csv\n", argv[0]);
        return 2;
    }
    try {
        run(argv[1]);
        return 0;
    } catch (const std::exception &error) {
        std::fprintf(stderr, "%s\n", error.what());
        return 1;
    }
}
