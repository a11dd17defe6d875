"""A member put away and brought back on the page, and the link as a QR code."""

from __future__ import annotations

import base64
import re
from typing import Any

import cv2
import numpy as np
import pytest

from app.page.qr import qr_svg
from app.store.rules import Refused
from app.views.members import ONLY_HERE
from tests.page.screens import Open, click, labels, read
from tests.store.conftest import Studio
from tests.store.made import check, new_set

LINK = "https://plumbset.studio.example/enter/" + "aB3_-" * 8 + "xyz"


def test_a_member_goes_into_the_archive_and_comes_back(studio: Studio, open_page: Open) -> None:
    new_set(studio.ilse)
    check(studio.database, studio.files)
    ilse = str(studio.ilse.actor.id)
    page = open_page(studio.trainer, "members", tab="Person and link", person=ilse)
    assert f'href="/kept/member/{ilse}"' in read(page)
    click(page, "Archive this member")
    listed = open_page(studio.trainer, "members")
    assert "Ilse</span>" not in read(listed) and "Odo</span>" in read(listed)
    assert [e.label for e in listed.expander if e.label.startswith("Archived")] == ["Archived: 1"]
    away = open_page(studio.trainer, "members", person=ilse)
    assert "Archived today" in read(away) and labels(away) == ["Bring back", "Delete for good"]
    click(away, "Bring back")
    assert "Ilse</span>" in read(open_page(studio.trainer, "members"))


def test_the_owner_deletes_an_archived_member_once_the_name_is_typed(studio: Studio, open_page: Open) -> None:
    ilse = studio.ilse.actor.id
    studio.trainer.archive_member(ilse)
    page = open_page(studio.trainer, "members", person=str(ilse))
    page.text_input[0].set_value("Odo").run()
    assert "That is not the name" in read(click(page, "Delete for good"))
    page.text_input[0].set_value("Ilse").run()
    click(page, "Delete for good")
    assert studio.trainer.archived() == []
    with pytest.raises(Refused):
        studio.trainer.bring_back(ilse)


def test_the_link_is_drawn_beside_its_text_with_words_for_who_cannot_see_it(
    studio: Studio, open_page: Open
) -> None:
    page = open_page(studio.trainer, "members", tab="Person and link", person=str(studio.ilse.actor.id))
    click(page, "Make a link")
    drawn = re.search(
        r'alt="QR code of Ilse&#39;s link" src="data:image/svg\+xml;base64,([^"]+)"', read(page)
    )
    assert drawn and "/enter/" in page.code[0].value
    assert qr_svg(page.code[0].value).split("<path", 1)[1] in base64.b64decode(drawn[1]).decode()


def test_a_link_that_no_phone_can_open_says_so_and_how_to_let_phones_in(
    studio: Studio, open_page: Open
) -> None:
    person = studio.ilse.actor.id
    page = open_page(studio.trainer, "members", tab="Person and link", person=str(person))
    page.session_state[f"link-{person}"] = "http://127.0.0.1:8501/enter/secret"
    text = read(page.run())
    assert ONLY_HERE in text and "QR code" not in text and "camera" not in text


@pytest.mark.browser
@pytest.mark.parametrize("ground", ["#fff", "#000"])
def test_a_camera_reads_the_code_on_either_ground(browser: Any, ground: str) -> None:
    page = browser.new_page()
    size = "width:208px;height:208px;display:block;margin:40px"
    data = base64.b64encode(
        qr_svg(LINK).replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"', 1).encode()
    )
    image = f'<img style="{size}" src="data:image/svg+xml;base64,{data.decode()}">'
    page.set_content(f'<body style="background:{ground}">{image}</body>')
    shot = cv2.imdecode(np.frombuffer(page.screenshot(), np.uint8), cv2.IMREAD_COLOR)
    assert cv2.QRCodeDetector().detectAndDecode(shot)[0] == LINK
