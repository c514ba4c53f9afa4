"""Rights on the laboratory's own settings: a manager's, at the web door."""

from __future__ import annotations

from tests.rights.kinds import MANAGER
from tests.rights.rows import Table, row

ROWS: Table = {
    "lab": (row(MANAGER),),
    "lab-profile": (row(MANAGER),),
    "people": (row(MANAGER),),
    "person": (row(MANAGER, pk="technician", body={"what": "pin"}),),
    "absence-remove": (row(MANAGER, pk="technician", absence="absence"),),
    "person-deactivate": (row(MANAGER, pk="technician"),),
    "person-activate": (row(MANAGER, pk="technician"),),
    "skills": (row(MANAGER),),
    "skill-change": (row(MANAGER, pk="skill"),),
    "hours": (row(MANAGER),),
    "closed-days": (row(MANAGER),),
    "closed-days-holidays": (row(MANAGER),),
    "closed-day-remove": (row(MANAGER, pk="closed day"),),
    "stations": (row(MANAGER),),
    "station-change": (row(MANAGER, pk="station"),),
    "baths": (row(MANAGER),),
    "bath-change": (row(MANAGER, pk="bath"),),
    "things": (row(MANAGER),),
    "thing-retire": (row(MANAGER, pk="flask"),),
    "tablets": (row(MANAGER),),
    "tablet-revoke": (row(MANAGER, pk="tablet"),),
    "practices": (row(MANAGER),),
    "practice-new": (row(MANAGER),),
    "practice-settings": (row(MANAGER, pk="practice", body={"what": "dentist"}),),
    "practice-close": (row(MANAGER, pk="practice"),),
    "practice-open": (row(MANAGER, pk="practice"),),
    "dentist-sign-in": (row(MANAGER, pk="practice", dentist="prescriber"),),
    "reception-remove": (row(MANAGER, pk="practice", person="receptionist"),),
    "dentist-change": (row(MANAGER, pk="prescriber"),),
    "route": (row(MANAGER),),
    "route-review": (row(MANAGER),),
    "route-discard": (row(MANAGER),),
    "route-versions": (row(MANAGER),),
    "route-version": (row(MANAGER, number="route version"),),
    "route-stage-new": (row(MANAGER),),
    "route-stage": (row(MANAGER, key="stage key"),),
    "route-stage-drop": (row(MANAGER, key="stage key"),),
    "route-check-new": (row(MANAGER),),
    "route-check": (row(MANAGER, number="check number"),),
    "route-check-drop": (row(MANAGER, number="check number"),),
}
