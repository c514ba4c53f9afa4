"""Where the design rules come from; every source says how sure it is."""

from __future__ import annotations

from typing import Final

COMMON: Final = "common practice, no published source"
JUDGEMENT: Final = "judgement"
MCCRACKEN: Final = "McCracken's Removable Partial Prosthodontics, from memory"
PHILLIPS: Final = "Phillips' Science of Dental Materials, from memory"
ZARB: Final = "Prosthodontic Treatment for Edentulous Patients (Zarb), from memory"
GYSI: Final = "Gysi's rule of the line between the ridges, from memory"
STUDENT_NOTES: Final = "student notes at brainscape.com (cards 9236445 and 8769470), read: weak"
TEACHING_BOOK: Final = "teaching book at ekitap.ankara.edu.tr/dentures, read"
