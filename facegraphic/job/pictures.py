"""Pixel artwork: PNG, JPEG or TIFF bytes to upright sRGB pixels.

Orientation tags (EXIF) are obeyed and an embedded colour profile is converted to sRGB, so that a picture prints
as it looks in any viewer. Sizes are checked from the header, before a pixel is decoded.
"""

import io
import warnings

from PIL import Image, ImageCms, ImageOps, UnidentifiedImageError

from facegraphic.job.image import Picture
from facegraphic.stock.limits import limit

FORMATS = ("PNG", "JPEG", "TIFF")
MOST_PIXELS, MOST_SCANS, MOST_CHUNKS = limit("picture-pixels"), limit("jpeg-scans"), limit("png-chunks")
PNG_HEAD, CHUNK_FRAME = 8, 12  # bytes ahead of the first chunk, and of a chunk beside its data (ISO/IEC 15948, 5.3)
SCAN = b"\xff\xda"  # the marker that begins each; within its data 0xff stands as 0xff 0x00 (ITU-T T.81, B.1.1.5)
_SRGB = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))


class _Unfit(Exception):
    """A picture that is sound but cannot be used; the text says why and how to mend it."""


def read_picture(data: bytes, most: int = MOST_PIXELS) -> Picture:
    """Decode a picture of at most so many pixels. ValueError with what is wrong for anything that cannot be used."""
    with warnings.catch_warnings():
        # Pillow warns of large pictures, where the limit here is our own and firm, and of tags that are damaged.
        warnings.simplefilter("ignore")
        try:
            if _has_too_many_chunks(data):
                raise _Unfit(f"a PNG of more than {MOST_CHUNKS} chunks; save it again")
            image = Image.open(io.BytesIO(data), formats=FORMATS)
            if image.width * image.height > most:
                raise _Unfit(
                    f"the picture is {image.width} × {image.height} pixels, more than {most // 10**6} million; "
                    "scale it down: 1200 pixels to the inch of its printed size are plenty"
                )
            if image.format == "JPEG" and data.count(SCAN) > MOST_SCANS:
                raise _Unfit(f"a JPEG of more than {MOST_SCANS} scans; save it again, as a plain JPEG or a PNG")
            return _upright_srgb(image)
        except Image.DecompressionBombError:
            raise ValueError(
                f"the picture is too large: far more than {most // 10**6} million pixels; scale it down"
            ) from None
        except UnidentifiedImageError:
            raise ValueError("not a PNG, JPEG, TIFF or SVG; save it as one of these") from None
        except MemoryError:
            raise ValueError("the picture takes more memory than there is; scale it down") from None
        except _Unfit as error:
            raise ValueError(str(error)) from None
        except Exception as error:  # Pillow raises errors of every kind for tags and chunks that are damaged
            told = str(error)[:200] or type(error).__name__
            raise ValueError(f"the picture is damaged, cut short or holds too much: {told}; save it again") from None


def _has_too_many_chunks(data: bytes) -> bool:
    """Whether a PNG is cut so small that reading it takes long, which Pillow sets no bound to."""
    if not data.startswith(b"\x89PNG\r\n\x1a\n"):
        return False
    at = PNG_HEAD
    for _ in range(MOST_CHUNKS):
        at += CHUNK_FRAME + int.from_bytes(data[at : at + 4])
        if at >= len(data):
            return False
    return True


def _upright_srgb(image: Image.Image) -> Picture:
    profile = image.info.get("icc_profile")
    image = ImageOps.exif_transpose(image)
    if image.mode in ("I;16", "I;16B", "I;16L", "I"):
        # 16 grey bits to 8: Pillow clips instead of scaling, so scale first.
        image = image.point(lambda value: value / 257).convert("L")
    elif image.mode == "F":
        raise _Unfit("floating-point pixels; save it with 8 or 16 bits a channel")
    if "A" in image.getbands() or image.mode == "P" or "transparency" in image.info:
        image = image if image.mode == "RGBA" else image.convert("RGBA")
        if profile:
            alpha = image.getchannel("A")
            image = _to_srgb(image.convert("RGB"), profile)
            image.putalpha(alpha)
    else:
        image = _to_srgb(image, profile)
        image.putalpha(255)  # in place: a copy of a large picture is hundreds of megabytes
    return Picture(image.width, image.height, image.tobytes())


def _to_srgb(image: Image.Image, profile: bytes | None) -> Image.Image:
    if profile:
        try:
            source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            converted = ImageCms.profileToProfile(image, source, _SRGB, outputMode="RGB")
        except (ImageCms.PyCMSError, OSError):
            converted = None  # a damaged profile, or one for other channels: the plain values are the best guess
        if converted is not None:
            return converted
    return image.convert("RGB")
