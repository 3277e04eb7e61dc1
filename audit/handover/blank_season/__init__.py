"""An empty workbook to type a season into."""
