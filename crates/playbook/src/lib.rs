//! playbook
