/* SPDX-License-Identifier: Apache-2.0 */
/* Something to be drawn, as values of its own: it can go to another thread. */
#ifndef OSIER_DAEMON_PAINT_DRAWING_H
#define OSIER_DAEMON_PAINT_DRAWING_H

#include "adapters/chart/chart.h"
#include "core/watch/digest.h"
#include "daemon/desk/settings.h"

typedef struct {
    Picture *picture; /* one of the three, owned */
    Paper *sheet;
    Digest *digest;
    GPtrArray *pictures; /* of the digest: of Picture, drawn as far as a mail has room */
    Settings *settings;  /* of the digest: a hold on those that it is worded by */
    bool document;       /* the digest's page within a JSON document: {"format": "html", "page"} */
    ChartFormat format;
    double width;
    char *file; /* the name it is saved under, or NULL: shown where it is */
} Drawing;

/* Takes the picture over. */
Drawing *drawing_of_picture(Picture *picture, ChartFormat format, double width);

/* Takes the sheet over; file is the name it is saved under. */
Drawing *drawing_of_sheet(Paper *sheet, const char *file);

/* Takes the digest and its pictures (an array that frees them) over, and holds the settings. */
Drawing *drawing_of_digest(Digest *digest, GPtrArray *pictures, const Settings *settings);
void drawing_free(Drawing *drawing);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Drawing, drawing_free)

/* The bytes; takes milliseconds. Never NULL. */
GBytes *drawing_draw(const Drawing *drawing);

/* "image/svg+xml", "image/png", "application/pdf"; of a digest "text/html" or "application/json". */
const char *drawing_type(const Drawing *drawing);

#endif
