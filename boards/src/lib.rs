//! Cringle cringle-boards.
