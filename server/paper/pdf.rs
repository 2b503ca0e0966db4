//! A sheet as a PDF.
