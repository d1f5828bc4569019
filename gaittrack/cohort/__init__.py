"""From a study to one documented, de-identified table of a cohort."""
