//! Gates, rung choice, dose, reasons.
