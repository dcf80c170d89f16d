"""The reporting checklist, evaluated over a package."""

from dataclasses import dataclass
