//! A normal quantity seen only to lie in an interval (F-06).
