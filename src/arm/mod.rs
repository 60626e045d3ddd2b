//! Where is the socket, how do joint torques map to it, what do gravity and joint friction explain.
//!
//! Knows nothing of bolts.
