// Position, Jacobian and gravity by a general rigid-body library (PyPI `pin`), the wrench by the
// normal equations in its linear algebra. Spoken to by rigid_body.rs, which says the protocol.

#include <chrono>
#include <cmath>
#include <cstdio>
#include <iostream>
#include <string>
#include <vector>

#include <pinocchio/algorithm/frames.hpp>
#include <pinocchio/algorithm/jacobian.hpp>
#include <pinocchio/algorithm/joint-configuration.hpp>
#include <pinocchio/algorithm/rnea.hpp>
#include <pinocchio/parsers/urdf.hpp>

namespace pin = pinocchio;

constexpr int kJoints = 7;
using Joints = Eigen::Matrix<double, kJoints, 1>;
using Six = Eigen::Matrix<double, 6, 1>;
using Jacobian = Eigen::Matrix<double, 6, kJoints>;

struct Sample {
    Joints position_rad;
    Joints torque_nm;
};

struct Answer {
    double moment_nm;
    double u_nm;
};

struct Arm {
    pin::Model model;
    pin::Data data;
    pin::FrameIndex tip;
    Six prior;
    Six functional;
    Joints precision;
    Eigen::VectorXd configuration;
    Jacobian jacobian = Jacobian::Zero();

    explicit Arm(const std::string &urdf) {
        pin::urdf::buildModel(urdf, model);
        data = pin::Data(model);
        tip = model.getFrameId("tool_flange");
        configuration = pin::neutral(model);
    }

    // The library keeps a joint without limits as cosine and sine.
    void place(const Joints &position_rad) {
        for (int i = 0; i < kJoints; ++i) {
            const auto &joint = model.joints[static_cast<std::size_t>(i) + 1];
            if (joint.nq() == 2) {
                configuration[joint.idx_q()] = std::cos(position_rad[i]);
                configuration[joint.idx_q() + 1] = std::sin(position_rad[i]);
            } else {
                configuration[joint.idx_q()] = position_rad[i];
            }
        }
    }

    Answer solve(const Sample &sample) {
        place(sample.position_rad);
        // Places every joint and fills the joint Jacobians; gravity needs the placements again.
        pin::computeJointJacobians(model, data, configuration);
        pin::updateFramePlacement(model, data, tip);
        jacobian.setZero();
        pin::getFrameJacobian(model, data, tip, pin::LOCAL_WORLD_ALIGNED, jacobian);
        const Joints external =
            sample.torque_nm - pin::computeGeneralizedGravity(model, data, configuration);
        const Jacobian weighted = jacobian * precision.asDiagonal();
        Eigen::Matrix<double, 6, 6> information = weighted * jacobian.transpose();
        information.diagonal() += prior;
        const Six spread = information.llt().solve(functional);
        return {spread.dot(weighted * external), std::sqrt(spread.dot(functional))};
    }
};

template <typename Vector> void read(Vector &into, int count) {
    for (int i = 0; i < count; ++i) {
        std::cin >> into[i];
    }
}

int main(int argc, char **argv) {
    if (argc != 2) {
        std::fprintf(stderr, "usage: rigid_body ARM.urdf\n");
        return 2;
    }
    Arm arm(argv[1]);
    if (arm.model.nv != kJoints) {
        std::fprintf(stderr, "%s: not an arm of %d revolute joints\n", argv[1], kJoints);
        return 2;
    }
    double force_n = 0.0, moment_nm = 0.0;
    std::cin >> force_n >> moment_nm;
    arm.prior << Eigen::Vector3d::Constant(1.0 / (force_n * force_n)),
        Eigen::Vector3d::Constant(1.0 / (moment_nm * moment_nm));
    Eigen::Vector3d axis;
    read(axis, 3);
    arm.functional << Eigen::Vector3d::Zero(), axis;
    Joints u;
    read(u, kJoints);
    arm.precision = u.array().square().inverse();
    double count = 0.0;
    std::cin >> count;
    std::vector<Sample> samples(static_cast<std::size_t>(count));
    for (auto &sample : samples) {
        read(sample.position_rad, kJoints);
        read(sample.torque_nm, kJoints);
    }
    std::string command;
    while (std::cin >> command) {
        if (command == "answers") {
            for (const auto &sample : samples) {
                const Answer answer = arm.solve(sample);
                std::printf("%.17g %.17g\n", answer.moment_nm, answer.u_nm);
            }
        } else if (command == "round") {
            int passes = 0;
            std::cin >> passes;
            volatile double kept = 0.0;
            const auto started = std::chrono::steady_clock::now();
            for (int pass = 0; pass < passes; ++pass) {
                for (const auto &sample : samples) {
                    const Answer answer = arm.solve(sample);
                    kept = answer.moment_nm + answer.u_nm;
                }
            }
            const std::chrono::duration<double, std::nano> took =
                std::chrono::steady_clock::now() - started;
            (void)kept;
            std::printf("%.17g\n", took.count() / (static_cast<double>(passes) * count));
        }
        std::fflush(stdout);
    }
    return 0;
}
