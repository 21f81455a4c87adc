def write_picture(layout, path):
    path.write_bytes(b"")
