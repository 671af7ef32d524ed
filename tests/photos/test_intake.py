"""Photos are taken in bounded, upright, in sRGB and private, or refused with what to do."""

from __future__ import annotations

import io
import random
import struct
import subprocess
import sys
import tracemalloc
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms, ImageOps

from server.errors import Refused, TooLarge
from server.photos.decode import BYTES_MAX
from server.photos.intake import EDGE_PX_MAX, WIDTHS_PX, smaller, take_in, width_step

GPS_TAG = 0x8825


def leaf(width: int = 240, height: int = 160) -> Image.Image:
    """A picture whose four corners differ, so that any wrong turn shows."""
    picture = Image.new("RGB", (width, height), (230, 225, 210))
    for box, colour in (
        ((0, 0, width // 2, height // 2), (40, 130, 50)),
        ((width // 2, 0, width, height // 2), (180, 60, 40)),
        ((0, height // 2, width // 2, height), (60, 70, 170)),
    ):
        picture.paste(colour, box)
    return picture


def saved(picture: Image.Image, form: str = "JPEG", **options: object) -> bytes:
    target = io.BytesIO()
    picture.save(target, form, **options)
    return target.getvalue()


def seen(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data))


def difference(one: Image.Image, other: Image.Image) -> float:
    """Mean absolute difference of two pictures in steps of 255."""
    assert one.size == other.size
    return float(np.abs(np.asarray(one.convert("RGB"), float) - np.asarray(other.convert("RGB"), float)).mean())


def png(width: int, height: int, body: bytes, *before: tuple[bytes, bytes], colour: int = 2) -> bytes:
    """A PNG made by hand (W3C PNG specification, 5.3 chunk layout), so that it may declare anything."""

    def chunk(name: bytes, content: bytes) -> bytes:
        return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))

    header = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, colour, 0, 0, 0))
    extra = b"".join(chunk(*each) for each in before)
    return b"\x89PNG\r\n\x1a\n" + header + extra + chunk(b"IDAT", body) + chunk(b"IEND", b"")


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_each_format_becomes_the_same_jpeg_picture(form: str) -> None:
    photo = take_in(saved(leaf(), form))
    assert seen(photo.data).format == "JPEG"
    assert (photo.width_px, photo.height_px, photo.media_type) == (240, 160, "image/jpeg")
    assert difference(seen(photo.data), leaf()) < 2


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_orientation_comes_out_upright(orientation: int) -> None:
    exif = Image.Exif()
    exif[274] = orientation
    data = saved(leaf(), exif=exif, quality=95)
    # Held against Pillow's own reading of the tag.
    upright = ImageOps.exif_transpose(seen(data))
    photo = take_in(data)
    assert difference(seen(photo.data), upright) < 1
    assert (photo.width_px, photo.height_px) == upright.size
    assert not seen(photo.data).getexif()


def test_location_camera_comment_thumbnail_and_profile_are_gone() -> None:
    exif = Image.Exif()
    exif[0x010F] = "Sixpence Optics"
    exif.get_ifd(GPS_TAG).update({1: "N", 2: (47.0, 22.0, 41.0), 3: "E", 4: (8.0, 32.0, 27.0)})
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    data = saved(
        leaf(), exif=exif, icc_profile=profile, comment=b"behind the shed", xmp=b"<x:xmpmeta>at home</x:xmpmeta>"
    )
    assert seen(data).getexif().get_ifd(GPS_TAG)[2] == (47.0, 22.0, 41.0), "the sent file must hold a location"
    kept = take_in(data).data
    picture = seen(kept)
    assert not picture.getexif()
    assert set(picture.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi"}
    for told in (b"Exif", b"Sixpence", b"shed", b"xmpmeta", b"ICC_PROFILE"):
        assert told in data
        assert told not in kept


def test_what_follows_the_picture_in_the_file_is_dropped() -> None:
    assert b"my address" not in take_in(saved(leaf()) + b"my address").data


def test_a_photo_with_a_preview_beside_it_keeps_the_photo() -> None:
    data = saved(leaf(), "MPO", save_all=True, append_images=[Image.new("RGB", (60, 40), "red")])
    assert seen(data).n_frames == 2
    assert difference(seen(take_in(data).data), leaf()) < 2


def test_transparent_parts_become_white() -> None:
    clear = leaf().convert("RGBA")
    clear.putalpha(0)
    assert difference(seen(take_in(saved(clear, "PNG")).data), Image.new("RGB", (240, 160), "white")) < 1
    spot = leaf().quantize(8)
    spot.info["transparency"] = spot.getpixel((0, 0))
    kept = seen(take_in(saved(spot, "PNG")).data)
    assert min(kept.getpixel((20, 20))) > 250
    assert max(kept.getpixel((20, 140))[:2]) < 90


@pytest.mark.parametrize("mode", ["1", "L", "P", "LA"])
def test_pictures_with_few_colours_are_taken(mode: str) -> None:
    picture = leaf().quantize(8) if mode == "P" else leaf().convert(mode)
    kept = seen(take_in(saved(picture, "PNG")).data)
    assert difference(kept, picture.convert("RGB")) < 6


def test_sixteen_bit_greys_keep_their_brightness() -> None:
    ramp = np.linspace(0, 65535, 256).astype(np.uint16)
    picture = Image.fromarray(np.tile(ramp, (16, 1)))
    kept = np.asarray(seen(take_in(saved(picture, "PNG")).data).convert("L"), float)
    assert np.abs(kept - np.arange(256)).max() < 4


def test_printers_colours_become_screen_colours() -> None:
    kept = seen(take_in(saved(leaf().convert("CMYK"))).data)
    assert kept.mode == "RGB"
    assert difference(kept, leaf()) < 3


def test_colours_of_a_wide_profile_are_converted_not_only_relabelled() -> None:
    # A profile with the red and green primaries exchanged: converted, red turns green; ignored, it stays red.
    swapped = swap_red_and_green(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    red = Image.new("RGB", (32, 32), (200, 20, 20))
    kept = seen(take_in(saved(red, icc_profile=swapped)).data).getpixel((16, 16))
    assert kept[0] < 80
    assert kept[1] > 150


def swap_red_and_green(profile: bytes) -> bytes:
    """Exchange the names of two tags in an ICC profile's tag table (ICC.1:2022, 7.3)."""
    return profile.replace(b"rXYZ", b"xxxx").replace(b"gXYZ", b"rXYZ").replace(b"xxxx", b"gXYZ")


# Pillow warns of damaged EXIF; outside the tests a warning stops nothing.
@pytest.mark.filterwarnings("ignore::UserWarning")
@pytest.mark.parametrize(
    "exif", [b"Exif\0\0MM", b"Exif\0\0" + b"\xff" * 60, b"Exif\0\0II*\0\x08\0\0\0\xff\xff\x12\x01"]
)
def test_damaged_exif_does_not_cost_the_photo(exif: bytes) -> None:
    assert difference(seen(take_in(saved(leaf(), exif=exif)).data), leaf()) < 2


def test_a_damaged_profile_does_not_cost_the_photo() -> None:
    assert difference(seen(take_in(saved(leaf(), icc_profile=b"no profile" * 40)).data), leaf()) < 2


@pytest.mark.parametrize(("width", "height"), [(5000, 1000), (1000, 5000), (9000, 600), (60_000, 20)])
def test_the_longest_edge_is_bounded_and_the_shape_kept(width: int, height: int) -> None:
    photo = take_in(saved(leaf(width, height)))
    assert 3000 <= max(photo.width_px, photo.height_px) <= EDGE_PX_MAX
    assert min(photo.width_px, photo.height_px) == pytest.approx(
        min(width, height) * max(photo.width_px, photo.height_px) / max(width, height), abs=1
    )


def refused(data: bytes, kind: type[Refused] = Refused) -> str:
    with pytest.raises(kind) as caught:
        take_in(data)
    assert caught.value.problems[0].field == "photo"
    return caught.value.message


def test_a_text_file_called_jpg_is_refused_by_its_content(tmp_path: Path) -> None:
    file = tmp_path / "leaf.jpg"
    file.write_text("leaves: 40\n" * 100)
    assert "no JPEG, PNG or WebP" in refused(file.read_bytes())
    assert "empty" in refused(b"")
    assert "no JPEG, PNG or WebP" in refused(saved(leaf(), "GIF"))


def test_heic_is_refused_with_what_to_set_on_the_phone() -> None:
    # The first box of an iPhone's photo (ISO/IEC 14496-12, 4.3, file type box).
    header = struct.pack(">I4s4sI", 24, b"ftyp", b"heic", 0) + b"mif1heic"
    assert "Most Compatible" in refused(header + bytes(1000))


def test_a_picture_that_declares_2500_million_pixels_is_refused_undecoded() -> None:
    data = png(50_000, 50_000, zlib.compress(bytes(1000)))
    assert "million" in refused(data, TooLarge)


def test_a_small_file_that_unpacks_to_millions_of_pixels_is_refused() -> None:
    packer = zlib.compressobj(1)
    body = b"".join(packer.compress(bytes(27_001)) for _ in range(9000)) + packer.flush()
    data = png(9000, 9000, body)
    assert len(data) < 2_000_000
    assert "9000 by 9000" in refused(data, TooLarge)
    assert "9000 by 9000" in refused(saved(Image.new("L", (9000, 9000))), TooLarge)


@pytest.mark.parametrize("where", [b"zTXt", b"iCCP"])
def test_text_that_unpacks_to_far_more_than_the_picture_is_refused_without_unpacking_it(where: bytes) -> None:
    packer = zlib.compressobj(1)
    bomb = b"note\0\0" + b"".join(packer.compress(bytes(1_000_000)) for _ in range(200)) + packer.flush()
    body = zlib.compress((b"\0" + bytes(48)) * 16)
    assert take_in(png(16, 16, body)).width_px == 16, "the same picture without the text is taken"
    data = png(16, 16, body, (where, bomb))
    tracemalloc.start()
    message = refused(data)
    _, peak_bytes = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert "damaged" in message
    assert peak_bytes < 20_000_000


def test_a_jpeg_of_endless_layers_is_refused() -> None:
    data = saved(leaf(), progressive=True)
    assert take_in(data).width_px == 240
    start = data.rindex(b"\xff\xda")
    assert "layers" in refused(data[:-2] + data[start:-2] * 200 + data[-2:])


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("share", [0.01, 0.3, 0.9])
def test_a_file_that_is_cut_off_is_refused(form: str, share: float) -> None:
    noise = Image.fromarray(np.random.default_rng(5).integers(0, 255, (200, 300, 3), dtype=np.uint8))
    data = saved(noise, form)
    assert "damaged" in refused(data[: max(40, int(len(data) * share))])


@pytest.mark.parametrize("form", ["PNG", "WEBP"])
def test_a_moving_picture_is_refused(form: str) -> None:
    data = saved(leaf(), form, save_all=True, append_images=[leaf().rotate(180)], duration=200)
    assert "moves" in refused(data)


@pytest.mark.filterwarnings("ignore::UserWarning")
@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_damage_anywhere_ends_in_a_picture_or_a_refusal(form: str) -> None:
    chance = random.Random(11)
    exif = Image.Exif()
    exif[274] = 6
    whole = saved(leaf(60, 40), form, exif=exif)
    for _ in range(150):
        data = bytearray(whole)
        for _ in range(chance.randint(1, 8)):
            data[chance.randrange(len(data))] = chance.randrange(256)
        try:
            photo = take_in(bytes(data))
        except Refused as error:
            assert error.message.endswith(".")
        else:
            seen(photo.data).load()


def test_100_mb_are_refused_by_size_without_a_look_inside(monkeypatch: pytest.MonkeyPatch) -> None:
    def decoded(*_: object, **__: object) -> None:
        raise AssertionError("the file was opened")

    data = saved(leaf()) + bytes(100_000_000)
    monkeypatch.setattr(Image, "open", decoded)
    assert f"at most {BYTES_MAX // 1_000_000} MB" in refused(data, TooLarge)


def test_smaller_copies_come_in_few_widths() -> None:
    kept = take_in(saved(leaf(2400, 1800))).data
    for wish, width in ((1, 160), (160, 160), (161, 320), (1000, 1280), (99_999, 1600)):
        copy = seen(smaller(kept, wish))
        assert copy.size == (width, width * 3 // 4)
        assert width_step(wish) == width
        assert difference(copy, leaf(*copy.size)) < 2
    assert len({width_step(wish) for wish in range(1, 5000)}) == len(WIDTHS_PX)


def test_a_narrow_photo_is_not_blown_up() -> None:
    kept = take_in(saved(leaf())).data
    assert smaller(kept, 640) == kept


@pytest.mark.parametrize("width", [0, -5])
def test_a_width_that_is_none_is_refused(width: int) -> None:
    with pytest.raises(Refused, match="no width"):
        smaller(saved(leaf()), width)


# The peak is sampled, since a process's own record of its peak starts with that of the process that started it.
MEASURED = """
import sys, threading, time
from pathlib import Path
import psutil
from server.photos.intake import smaller, take_in
data = Path(sys.argv[1]).read_bytes()
process, sizes, over = psutil.Process(), [], threading.Event()
def sample():
    while not over.wait(0.001):
        sizes.append(process.memory_info().rss)
before = process.memory_info().rss
sampler = threading.Thread(target=sample)
sampler.start()
start = time.perf_counter()
photo = take_in(data)
taken = time.perf_counter()
smaller(photo.data, 640)
done = time.perf_counter()
over.set()
sampler.join()
print(taken - start, done - taken, (max(sizes) - before) / 1e6, photo.width_px, len(photo.data))
"""


@pytest.mark.benchmark
@pytest.mark.parametrize(
    ("width", "height", "form", "seconds_max", "megabytes_max"),
    [(4000, 3000, "JPEG", 3, 150), (8000, 6000, "JPEG", 6, 150), (5000, 5000, "PNG", 12, 500)],
)
def test_a_phones_photo_takes_bounded_time_and_memory(
    tmp_path: Path, width: int, height: int, form: str, seconds_max: float, megabytes_max: float
) -> None:
    picture = leaf(width, height)
    if form == "JPEG":
        # Grain, so that the decoder has as much to do as with a real photo's.
        picture = Image.blend(picture, Image.effect_noise((width, height), 60).convert("RGB"), 0.3)
    file = tmp_path / "photo"
    picture.convert("RGBA" if form == "PNG" else "RGB").save(file, form, compress_level=1)
    ran = subprocess.run(
        [sys.executable, "-c", MEASURED, str(file)],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(__file__).parent.parent.parent,
    )
    taking_s, copying_s, memory_mb, kept_px, kept_bytes = map(float, ran.stdout.split())
    print(
        f"\n{form} {width}x{height}, {file.stat().st_size / 1e6:.1f} MB: taken in {taking_s:.2f} s, 640 px copy in "
        f"{copying_s:.2f} s, {memory_mb:.0f} MB more at the peak; kept {kept_px:.0f} px, {kept_bytes / 1e6:.1f} MB"
    )
    assert taking_s < seconds_max
    assert 5 < memory_mb < megabytes_max
