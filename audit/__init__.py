"""stemaudit: is every song of this show safe to play tonight?"""

__version__ = "0.1.0"
