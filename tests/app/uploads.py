"""A photo as the page gets it, with the place it was taken at in its EXIF."""

import io

from PIL import Image

from scanner.app.lot.add_board import UploadedPhoto

GPS = 0x8825


def photo(name):
    exif = Image.Exif()
    exif.get_ifd(GPS).update({1: "N", 2: (51.0, 30.0, 26.5)})
    file = io.BytesIO()
    Image.new("RGB", (60, 40), (150, 120, 90)).save(file, "JPEG", exif=exif, comment=name)
    return UploadedPhoto(name, file.getvalue())
