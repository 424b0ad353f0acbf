"""Files of phones, opened upright: what passes between the stages, EXIF, blur, light."""
