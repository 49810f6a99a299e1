"""Page models drawn with ReportLab."""
