//! Cringle cringle-tests.
