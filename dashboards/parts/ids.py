"""Names of the components that screens share; what only one screen knows stands in that screen.

A screen begins its own ids with its name and a hyphen (``compare-table``), so that none meet.
"""

from typing import Final

ADDRESS: Final = "address"
"""``dcc.Location``: which screen, and who by row number."""
CHOICE: Final = "choice"
"""``dcc.Store`` of this browser tab: row numbers of the chosen ``person``, ``visit``, ``trial``."""
CHANGED: Final = "changed"
"""``dcc.Store``: a number that grows when the study was changed from this tab."""
SCREEN: Final = "screen"
BANNER: Final = "banner"
MESSAGE: Final = "message"
"""What went wrong or was done, spoken to screen readers; see ``shell.say``."""
THEME: Final = "theme"
THEME_BUTTON: Final = "theme-button"
THEME_PROVIDER: Final = "theme-provider"
