//! The playbook language: an offence written down once, checked, and compiled to a graph of steps
//! with reference motion.

pub mod graph;
