"""Teeth are read in the reader's numbering on every screen, printed in the lab's, kept as FDI."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from cases.documents.facts import House, case_facts
from cases.models import Lab, Person, Submission
from cases.services.people import choose_numbering
from cases.services.record import Refusal
from cases.services.tablets import close_bench, open_bench
from tests.factories import NOW, PIN, Shop
from tests.views.case.conftest import Envelope, SignIn, Tablet, case_at, entries, url

pytestmark = pytest.mark.django_db


def choose(client: Client, system: str) -> None:
    response = client.post(reverse("cases:account"), {"numbering": system})
    assert response["Location"] == reverse("cases:account")


def test_the_choice_holds_on_the_pages_of_the_laboratory(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "survey")
    stage = case.stages.get(key="block-out")
    client = sign_in("mara")
    pages = (
        url("case", case),
        url("case-design", case),
        reverse("cases:case-design-version", args=[case.number, 2]),
        reverse("cases:bench-stage", args=[stage.pk]),
        reverse("cases:bench"),
    )
    for address in pages:
        assert client.get(address).context["notation"] == "fdi"

    choose(client, "universal")

    for address in pages:
        response = client.get(address)
        assert response.context["notation"] == "universal"
        assert "Teeth in Universal" in response.content.decode()
    # The clasp on 35 stands as 20, wherever a tooth is named.
    said = client.get(url("case", case)).content.decode()
    assert "20 (0.9 mm" in said or "20, 0.9 mm" in said
    assert "35 (0.9 mm" not in said


def test_the_dentist_reads_in_the_own_numbering_and_papers_stay_in_the_labs(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "survey")
    client = sign_in("lind")
    before = case_facts(case, House.of(Lab.objects.get())).teeth
    choose(client, "palmer")
    page = client.get(reverse("cases:practice-case", args=[case.number]))
    assert page.context["notation"] == "palmer"
    assert "LL6" in page.content.decode()
    assert case_facts(case, House.of(Lab.objects.get())).teeth == before
    assert "36" in before


def test_one_persons_choice_on_a_shared_tablet_is_not_the_next_ones(
    shop: Shop, tablet: Client
) -> None:
    choose(tablet, "universal")
    assert tablet.get(reverse("cases:bench")).context["notation"] == "universal"
    row = Tablet.objects.get()
    seal = Envelope("bench", NOW, person_id=shop.people["mara"].pk, tablet_id=row.pk)
    close_bench(seal, how="change")
    open_bench(Envelope("bench", NOW, tablet_id=row.pk), person=shop.people["oren"].pk, pin=PIN)
    assert tablet.get(reverse("cases:bench")).context["notation"] == "fdi"


def test_what_is_typed_is_read_in_the_numbering_of_the_page_that_sent_it(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "trim")
    client = sign_in("noor")
    page = client.get(reverse("cases:order-correct", args=[case.number]))
    assert '<input type="hidden" name="notation" value="fdi">' in page.content.decode()
    choose(client, "universal")  # in another window, meanwhile
    form = page.context["form"]
    typed = {f.html_name: f.value() for f in form if f.value() not in (None, False, "", [])}
    typed |= {"replaces": "36, 46", "reason": "Misread", "notation": "fdi"}
    response = client.post(
        reverse("cases:order-correct", args=[case.number]),
        entries(**typed, version=case.version),
    )
    assert response.status_code == 303
    case.refresh_from_db()
    assert sorted(case.order["replaces"]) == [36, 46]


def test_the_choice_outlives_the_session_and_holds_on_another_device(
    shop: Shop, sign_in: SignIn, tablet: Client
) -> None:
    case = case_at(shop, "survey")
    choose(sign_in("mara"), "palmer")

    # Another browser, and the tablet in the lab, where Mara stands by her PIN.
    assert sign_in("mara").get(url("case", case)).context["notation"] == "palmer"
    assert tablet.get(reverse("cases:bench")).context["notation"] == "palmer"
    assert sign_in("noor").get(url("case", case)).context["notation"] == "fdi"


def test_a_choice_on_the_design_page_is_kept_with_the_person(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")
    client = sign_in("mara")
    form = client.get(url("case-design", case)).context["form"]
    typed = {f.html_name: f.value() for f in form if f.value() not in (None, False, "", [])}
    seal = entries()
    answer = client.post(
        url("case-design-preview", case), {**typed, **seal, "notation": "fdi", "show_in": "palmer"}
    )
    assert answer.context["notation"] == "palmer"
    assert answer.context["form"]["replaced"].value() == "LR7, LR6, LL6, LL7"
    assert Person.objects.get(name="Mara").notation == "palmer"
    # The choice is a submission of its own: the seal of the form is still unused.
    assert not Submission.objects.filter(pk=seal["submission_id"]).exists()


@pytest.mark.parametrize(
    ("who", "system", "code"), [("mara", "runes", "no-numbering"), (None, "palmer", "no-person")]
)
def test_numbering_is_refused_where_it_cannot_be(
    shop: Shop, who: str | None, system: str, code: str
) -> None:
    seal = Envelope("web", NOW, person_id=shop.people[who].pk if who else None)
    with pytest.raises(Refusal) as refused:
        choose_numbering(seal, system=system)
    assert refused.value.code == code
    assert not Person.objects.exclude(notation="").exists()


def test_an_unknown_numbering_changes_nothing(shop: Shop, sign_in: SignIn) -> None:
    client = sign_in("mara")
    response = client.post(reverse("cases:account"), {"numbering": "runes"})
    assert response.status_code == 200
    assert response.context["notation"] == "fdi"
