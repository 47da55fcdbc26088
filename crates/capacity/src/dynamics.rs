//! How an ability moves between days (F-03).
