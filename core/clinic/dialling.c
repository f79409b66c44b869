/* SPDX-License-Identifier: Apache-2.0 */
/* The countries' own plans under ITU-T E.164, as of 2026: telephones and mobiles, no short numbers and no services. Where numbers
 * differ too much in length nothing is said of it. tests/messages asks a library of such plans for a second
 * opinion on every row. */
#include "core/clinic/dialling.h"

#include <glib.h>

static const Dialling ROWS[] = {
    {"0 8", 8, 8, "370"},
    {"06", 8, 9, "36"},
    {"0", 5, 8, "686"},
    {"0", 5, 9, "27"},
    {"0", 6, 9, "252 359 40 421 508"},
    {"0", 6, 10, "53 63 880 95 98"},
    {"0", 7, 7, "291"},
    {"0", 7, 8, "961"},
    {"0", 7, 9, "231 254 265 423 46 595 967"},
    {"0", 7, 10, "243 353"},
    {"0", 7, 11, "86"},
    {"0", 8, 8, "232 373 374 382 386 389 591 598"},
    {"0", 8, 9, "213 250 264 32 355 377 383 385 387 51 593 66 855 886 962 963 970 971 972"},
    {"0", 8, 10, "20 57 60 64 850 856 964 976 977"},
    {"0", 9, 9,
     "211 212 218 233 249 251 255 256 260 261 262 263 31 33 380 41 590 594 596 61 93 94 966 994 "
     "995 996"},
    {"0", 9, 10, "44 81 84 92"},
    {"0", 10, 10, "234 58 90 91"},
    {"0", 10, 11, "54 55"},
    {"1", 7, 7, "692"},
    {"1", 10, 10, "1"},
    {"8", 8, 8, "993"},
    {"8", 10, 10, "7"},
    {"80 8", 9, 9, "375"},
    {"", 0, 0, "352 39"},
    {"", 4, 5, "290"},
    {"", 4, 7, "683 690"},
    {"", 5, 5, "247 500 682"},
    {"", 5, 7, "676 677 678 688"},
    {"", 5, 10, "685"},
    {"", 6, 6, "298 299 672 681 687"},
    {"", 6, 7, "597"},
    {"", 6, 9, "376"},
    {"", 7, 7, "238 239 246 248 269 297 501 592 673 674 679 680 691 960"},
    {"", 7, 8, "230 241 267 372 507 599 670 675 975"},
    {"", 7, 9, "220 354 48"},
    {"", 8, 8,
     "216 222 223 226 227 228 235 236 253 257 266 268 350 356 357 371 45 47 502 503 504 505 506 "
     "509 65 689 852 853 965 968 "
     "973 974"},
    {"", 8, 9, "224 258"},
    {"", 8, 10, "378"},
    {"", 9, 9, "221 237 240 242 244 245 34 351 420 56 992 998"},
    {"", 10, 10, "225 229 30 52"},
};

static const Dialling OTHER = {"0", 0, 0, ""};

/* Digits of the row's code that the number begins with; 0 where it begins with none of them. */
static int code_in(const Dialling *row, const char *digits)
{
    const char *at = row->codes;

    while (*at != '\0') {
        int same = 0;
        while (g_ascii_isdigit(at[same]) && at[same] == digits[same])
            same++;
        if (at[same] == ' ' || at[same] == '\0') return same;
        while (*at != ' ' && *at != '\0')
            at++;
        while (*at == ' ')
            at++;
    }
    return 0;
}

/* No country code is the beginning of another. */
const Dialling *dialling_of(const char *digits, int *code_length)
{
    int length = 0;
    const Dialling *row = &OTHER;

    for (size_t i = 0; i < G_N_ELEMENTS(ROWS) && length == 0; i++) {
        length = code_in(&ROWS[i], digits);
        if (length > 0) row = &ROWS[i];
    }
    if (code_length != NULL) *code_length = length;
    return row;
}
