# osier. `make demo` rehearses a clinic, `make check` passes the tests; both install what is missing.
#
#   make            build/osier and build/osierd
#   make demo       two weeks of a made-up clinic, end to end
#   make page       the clinic's page, open on the demo clinic
#   make check      warnings are errors, sanitizers, tests, layers, lint
#   make check-all  check, and all that takes long: kills, power cuts, simulation, fuzzing, threads, coverage, benches
#   make replies    how well labelled replies are read, as a table
#   make bench      figures beside the bare libraries
#   make day        one day of ten million clients, simulated
#   make install    PREFIX=/usr/local DESTDIR=; make deb for a Debian package, make deb-test tries it
#   make sim        simulated clinics, seed after seed; make mutants plants bugs that it must find
#   make power      a thousand power cuts; make flips: a hundred thousand flipped bits of a ledger
#   make fuzz       any bytes for SECONDS=60 against TARGET=reader, clinic, programme, pack, gateway, webhook, mail, rule, program,
#                   parcel (a sync batch), snapshot, bundle or api
#   make coverage   branches taken, room by room; make tsan, make analyse: threads, static analysis
#   make packages   install what config/packages.txt names and this machine lacks
#
# FLAVOUR=release (build/) is what runs; FLAVOUR=san (build/san/) is what is tested.

FLAVOUR ?= release
OUT := $(if $(filter release,$(FLAVOUR)),build,build/$(FLAVOUR))
CC ?= gcc
FUZZ_CC ?= clang-14

LIBS := libcurl libuv sqlite3 glib-2.0 gio-2.0 libical gmime-3.0 libmicrohttpd jansson libfyaml libsodium nettle libsystemd gnutls \
        cairo pangocairo libpng libpq
CFLAGS_LIBS = $(shell pkg-config --cflags $(LIBS) cmocka)
LDLIBS = $(shell pkg-config --libs $(LIBS)) -lcsv -lm -lpthread

WARN := -Wall -Wextra -Werror -Wshadow -Wstrict-prototypes -Wmissing-prototypes -Wformat=2 -Wvla \
        -Wwrite-strings -Wpointer-arith -Wundef -Wimplicit-fallthrough
HARDEN_release := -O2 -D_FORTIFY_SOURCE=3 -fstack-protector-strong -fstack-clash-protection -fcf-protection=full \
                  -ftrivial-auto-var-init=zero -fPIE
HARDEN_san := -O1 -fno-omit-frame-pointer -fsanitize=address,undefined -fno-sanitize-recover=all
HARDEN_fuzz := -O1 -fno-omit-frame-pointer -fsanitize=fuzzer-no-link,address,undefined \
                -fno-sanitize-recover=all -Wno-format-nonliteral -Wno-error
LINK_fuzz := -fsanitize=fuzzer,address,undefined
HARDEN_cov := -O0 --coverage -fprofile-update=atomic -Wno-format-nonliteral
HARDEN_tsan := -O1 -fno-omit-frame-pointer -fsanitize=thread
LINK_cov := --coverage
LINK_tsan := -fsanitize=thread
LINK_release := -pie -Wl,-z,relro,-z,now,-z,noexecstack
LINK_san := -fsanitize=address,undefined
CFLAGS += -std=gnu11 -g $(WARN) $(HARDEN_$(FLAVOUR)) -I. -MMD -MP
LDFLAGS += $(LINK_$(FLAVOUR))

MAINS := daemon/osierd.c daemon/osier.c
SOURCES := $(filter-out $(MAINS),$(sort $(shell find core adapters daemon 2>/dev/null -name '*.c')))
OBJECTS := $(SOURCES:%.c=$(OUT)/%.o)
SUPPORT := $(sort $(shell find tests/support 2>/dev/null -name '*.c'))
TESTS := $(sort $(shell find tests -name '*_test.c'))
TEST_PROGRAMS := $(TESTS:%.c=$(OUT)/%)
BENCHES := $(patsubst tests/bench/%_bench.c,$(OUT)/bench/%,$(sort $(wildcard tests/bench/*_bench.c)))

.PHONY: day page page-tools page-test records-test messages-test sim mutants power flips coverage tsan analyse demo fuzz bench benches all packages test \
        tests check check-all slow-tests kills idle fuzz-all room lint replies \
        install uninstall deb deb-test clean
.SECONDARY:
all: $(patsubst daemon/%.c,$(OUT)/%,$(wildcard $(MAINS)))

packages:
	@sh tests/lint/packages.sh config/packages.txt

# Two weeks of a made-up clinic: the real osierd amid stand-ins, in seconds. The results lie in build/demo.
demo:
	@$(MAKE) --no-print-directory packages
	@$(MAKE) --no-print-directory -j$(shell nproc) all
	@rm -rf build/demo
	@build/osier rehearse --from 2026-03-02 --days 14 --seed 7 --out build/demo

$(OUT)/core/%.o: core/%.c
	@mkdir -p $(@D)
	@echo "  CC  $<"
	@$(CC) $(CFLAGS) $(CFLAGS_LIBS) -include core/banned.h -c -o $@ $<

$(OUT)/%.o: %.c
	@mkdir -p $(@D)
	@echo "  CC  $<"
	@$(CC) $(CFLAGS) $(CFLAGS_LIBS) -c -o $@ $<

# The files of the page are built into the program.
WWW := $(sort $(wildcard adapters/page/www/*))
$(OUT)/adapters/page/www.c: $(WWW)
	@mkdir -p $(@D)
	@echo "  GEN $@"
	@{ echo '<gresources><gresource prefix="/www">'; for f in $(notdir $(WWW)); do echo "<file>$$f</file>"; done; \
	   echo '</gresource></gresources>'; } > $(@:.c=.xml)
	@glib-compile-resources --target=$@ --sourcedir=adapters/page/www --generate-source \
	    --c-name=www $(@:.c=.xml)

$(OUT)/adapters/page/www.o: $(OUT)/adapters/page/www.c
	@echo "  CC  $<"
	@$(CC) $(CFLAGS) $(CFLAGS_LIBS) -w -c -o $@ $<

$(OUT)/libosier.a: $(OBJECTS) $(OUT)/adapters/page/www.o
	@rm -f $@
	@ar crs $@ $^

$(OUT)/osier $(OUT)/osierd: $(OUT)/%: $(OUT)/daemon/%.o $(OUT)/libosier.a
	@echo "  LD  $@"
	@$(CC) $(LDFLAGS) -o $@ $^ $(LDLIBS)

# An archive, so that a test links what it calls for and nothing else
$(OUT)/tests/libsupport.a: $(SUPPORT:%.c=$(OUT)/%.o)
	@rm -f $@
	@ar crs $@ $^

SIM_PARTS := $(filter-out %_test.c %_main.c,$(wildcard tests/sim/*.c))
$(OUT)/tests/sim/%_test: $(OUT)/tests/sim/%_test.o $(SIM_PARTS:%.c=$(OUT)/%.o) $(OUT)/tests/libsupport.a $(OUT)/libosier.a
	@echo "  LD  $@"
	@$(CC) $(LDFLAGS) -o $@ $^ $(LDLIBS) -lcmocka

$(OUT)/sim: $(OUT)/tests/sim/sim_main.o $(SIM_PARTS:%.c=$(OUT)/%.o) $(OUT)/tests/libsupport.a $(OUT)/libosier.a
	@echo "  LD  $@"
	@$(CC) $(LDFLAGS) -o $@ $^ $(LDLIBS)

# Simulated clinics, seed after seed: make sim SECONDS=60 SEED=1 DAYS=30; one, with all that happens: build/sim --only --loud --seed 1
# And replicas that are apart: HISTORIES=10000; one again: build/sim --apart 1 --loud --seed 7
sim: $(OUT)/sim
	@seq $(or $(SEED),1) 250 $$(( $(or $(SEED),1) + $(or $(HISTORIES),10000) - 1 )) | \
	    xargs -P$(shell nproc) -I{} $(OUT)/sim --apart 250 --seed {}
	@$(OUT)/sim --seconds $(or $(SECONDS),60) --seed $(or $(SEED),1) --days $(or $(DAYS),0)

# Does the simulation find bugs? Plants each of tests/sim/mutants in a copy of the tree: make mutants SEEDS=60 ONLY="sign-dropped"
mutants:
	@sh tests/sim/mutants/run.sh build/mutants $(or $(SEEDS),60) $(ONLY)

$(OUT)/tests/%_test: $(OUT)/tests/%_test.o $(OUT)/tests/libsupport.a $(OUT)/libosier.a
	@echo "  LD  $@"
	@$(CC) $(LDFLAGS) -o $@ $^ $(LDLIBS) -lcmocka

# These start the programs themselves
$(filter $(OUT)/tests/real/%,$(TEST_PROGRAMS)): | $(OUT)/osier $(OUT)/osierd

# How well the labelled replies are read: make replies CONFUSION=--confusion
$(OUT)/replies: $(OUT)/tests/core/talk/replies_main.o $(OUT)/tests/libsupport.a $(OUT)/libosier.a
	@echo "  LD  $@"
	@$(CC) $(LDFLAGS) -o $@ $^ $(LDLIBS)

replies: $(OUT)/replies
	@$(OUT)/replies $(CONFUSION) $(sort $(wildcard tests/core/talk/*-dev.tsv)) $(sort $(wildcard tests/core/talk/*-kept.tsv))

# Any bytes against what reads what comes from outside: make fuzz TARGET=clinic SECONDS=600. What it found stays in
# build/fuzz/TARGET; the targets are tests/fuzz/*_fuzz.c.
TARGET ?= reader
FUZZ_TARGETS := $(sort $(patsubst tests/fuzz/%_fuzz.c,%,$(wildcard tests/fuzz/*_fuzz.c)))
FUZZ_OWN := $(filter-out %_fuzz.c,$(wildcard tests/fuzz/*.c))
FUZZ_PARTS := $(filter core/% adapters/files/% adapters/sms/% adapters/mail/% adapters/peer/% adapters/seal/% adapters/program/talk.c \
                       adapters/store/snapshot_file.c adapters/store/snapshot_head.c adapters/store/snapshot_look.c \
                       daemon/cli/bundle_read.c,$(SOURCES))
$(OUT)/libfuzz.a: $(FUZZ_PARTS:%.c=$(OUT)/%.o) $(OUT)/tests/support/gateways.o $(FUZZ_OWN:%.c=$(OUT)/%.o)
	@rm -f $@
	@ar crs $@ $^

$(OUT)/fuzz/%: $(OUT)/tests/fuzz/%_fuzz.o $(OUT)/libfuzz.a
	@mkdir -p $(@D)
	@echo "  LD  $@"
	@$(CC) $(LDFLAGS) -o $@ $^ $(LDLIBS) -lcmocka

# The JSON API wants the whole daemon, on its twins.
$(OUT)/fuzz/api: $(OUT)/tests/fuzz/api_fuzz.o $(SIM_PARTS:%.c=$(OUT)/%.o) $(FUZZ_OWN:%.c=$(OUT)/%.o) $(OUT)/tests/libsupport.a \
                 $(OUT)/libosier.a
	@mkdir -p $(@D)
	@echo "  LD  $@"
	@$(CC) $(LDFLAGS) -o $@ $^ $(LDLIBS) -lcmocka

fuzz:
	@sh tests/lint/packages.sh config/packages-fuzz.txt
	@$(MAKE) --no-print-directory -j$(shell nproc) FLAVOUR=fuzz CC="$(FUZZ_CC)" build/fuzz/fuzz/$(TARGET)
	@sh tests/fuzz/seeds.sh $(TARGET) build/fuzz/seeds/$(TARGET)
	@mkdir -p build/fuzz/found/$(TARGET)
	@LSAN_OPTIONS=suppressions=tests/fuzz/lsan.txt:print_suppressions=0 build/fuzz/fuzz/$(TARGET) -max_total_time=$(or $(SECONDS),60) -max_len=$(if $(filter pack,$(TARGET)),200000,20000) \
	    -timeout=20 -rss_limit_mb=2048 -print_final_stats=1 -artifact_prefix=build/fuzz/found/ \
	    build/fuzz/found/$(TARGET) build/fuzz/seeds/$(TARGET)

# Each target in turn: make fuzz-all SECONDS=600
fuzz-all:
	@for target in $(FUZZ_TARGETS); do \
	    echo "== $$target"; \
	    $(MAKE) --no-print-directory fuzz TARGET=$$target || exit 1; \
	done

# A bench by name: make bench-net
BENCH_PARTS := $(filter-out %_bench.c,$(wildcard tests/bench/*.c))
$(OUT)/bench/%: $(OUT)/tests/bench/%_bench.o $(BENCH_PARTS:%.c=$(OUT)/%.o) $(OUT)/tests/libsupport.a $(OUT)/libosier.a
	@mkdir -p $(@D)
	@echo "  LD  $@"
	@$(CC) $(LDFLAGS) -o $@ $^ $(LDLIBS)

bench-%: $(OUT)/bench/%
	@$<

# One table: every figure beside the bare limit measured in the same run, as a ratio. See docs/performance.md.
bench: $(BENCHES)
	@sh tests/bench/table.sh $^

# One day of ten million clients over all zones, by simulation: make day CLIENTS=1000000 DATE=2026-11-01. See docs/scale.md.
$(OUT)/day: $(OUT)/tests/scale/day.o $(OUT)/libosier.a
	@echo "  LD  $@"
	@$(CC) $(LDFLAGS) -o $@ $^ $(LDLIBS)

day: $(OUT)/day
	@$(OUT)/day $(or $(CLIENTS),10000000) $(or $(DATE),2026-03-29)

# One room's tests: make FLAVOUR=san room ROOM=core/calendar
ROOM ?= core
room: $(filter $(OUT)/tests/$(ROOM)%,$(TEST_PROGRAMS))
	@for t in $^; do echo "== $$t"; $$t || exit 1; done

# What drives the browser, by its pinned versions; the browser itself is Debian's.
build/page/node_modules/.ready: tests/page/package.json tests/page/package-lock.json
	@mkdir -p build/page
	@cp $^ build/page/
	@npm ci --prefix build/page --silent --no-audit --no-fund --ignore-scripts
	@touch $@

# A morning on the clinic's page in a real browser; a screenshot of each view lies in build/page/shots.
page-test: build/page/node_modules/.ready $(OUT)/osier $(OUT)/osierd
	@node tests/page/browser.mjs $(OUT) build/page build/page/shots

# What leaves osier, read by others' programs, by their pinned versions.
build/records/node_modules/.ready: tests/records/package.json tests/records/package-lock.json
	@mkdir -p build/records
	@cp $^ build/records/
	@npm ci --prefix build/records --silent --no-audit --no-fund --ignore-scripts
	@touch $@

records-test: build/records/node_modules/.ready $(OUT)/osier $(OUT)/osierd
	@node tests/records/records.mjs $(OUT) build/records

# Segments and numbers, beside what others' libraries make of them, by their pinned versions.
build/messages/node_modules/.ready: tests/messages/package.json tests/messages/package-lock.json
	@mkdir -p build/messages
	@cp $^ build/messages/
	@npm ci --prefix build/messages --silent --no-audit --no-fund --ignore-scripts
	@touch $@

messages-test: build/messages/node_modules/.ready $(OUT)/osier
	@node tests/messages/messages.mjs $(OUT) build/messages

# The page on the demo clinic: prints a link that lets you in; Ctrl-C ends it.
page:
	@$(MAKE) --no-print-directory packages
	@$(MAKE) --no-print-directory -j$(shell nproc) all
	@[ -f build/demo/store.db ] || $(MAKE) --no-print-directory demo
	@sh tests/page/open.sh build/demo build/page-clinic 8750

test: $(TEST_PROGRAMS)
	@sh tests/lint/run.sh $(TEST_PROGRAMS)

# Warnings are errors in both flavours; the tests run under AddressSanitizer and UndefinedBehaviorSanitizer.
check:
	@$(MAKE) --no-print-directory packages
	@$(MAKE) --no-print-directory -j$(shell nproc) all benches build/sim build/day build/tests/sim/loss_test
	@build/sim --apart 200
	@OSIER_TEST_LONG=1 build/tests/sim/loss_test
	@$(MAKE) --no-print-directory -j$(shell nproc) FLAVOUR=san all tests
	@$(MAKE) --no-print-directory FLAVOUR=san test
	@$(MAKE) --no-print-directory FLAVOUR=san page-test
	@$(MAKE) --no-print-directory FLAVOUR=san records-test
	@$(MAKE) --no-print-directory messages-test
	@$(MAKE) --no-print-directory lint
	@echo "all good; next: make demo shows two weeks of a clinic, make check-all runs what takes long"

# Everything, part after part, each of which can be run alone; it takes hours. What each printed lies in build/check-all.
# make check-all PARTS="kills power" runs some; make check-all BEGIN=30 only sees that each begins, and stops it after 30 s.
PARTS ?= check deb-test slow-tests kills idle power flips sim mutants fuzz-all tsan analyse coverage replies bench day
check-all:
	@MAKE="$(MAKE)" sh tests/lint/parts.sh build/check-all $(or $(BEGIN),0) $(PARTS)

# An exchange's own time-outs, waited for in full.
slow-tests:
	@$(MAKE) --no-print-directory -j$(shell nproc) FLAVOUR=san all build/san/tests/real/bad_gateway_test build/san/tests/real/bad_line_test
	@OSIER_TEST_LONG=1 sh tests/lint/run.sh build/san/tests/real/bad_gateway_test build/san/tests/real/bad_line_test

# A hundred kills for each kind of gateway and of store.
kills:
	@$(MAKE) --no-print-directory -j$(shell nproc) build/tests/real/kill_test
	@build/tests/real/kill_test 100

# A minute in which nothing wakes.
idle: all
	@sh tests/real/idle.sh 60 build

# A thousand power cuts; a hundred thousand flipped bits of a ledger, each found by `osier check`.
power: build/tests/adapters/store/power_test
	@OSIER_TEST_LONG=1 $<

flips: build/tests/adapters/store/flip_test
	@OSIER_TEST_LONG=1 $<

tests: $(TEST_PROGRAMS)
benches: $(BENCHES)

# Which branches the tests take, room by room, with limits: make coverage ONLY=tests/core
coverage:
	@$(MAKE) --no-print-directory -j$(shell nproc) FLAVOUR=cov all tests
	@sh tests/lint/coverage.sh build/cov $(or $(ONLY),tests)

# The threads of the store, of language packs, of mail, of drawings, of copies, of passwords and of who stands by, and whoever speaks with them, under ThreadSanitizer.
TSAN_REAL := loop backup paper mailbox standby page
TSAN_TESTS := build/tsan/tests/adapters/files/packs_test $(patsubst %.c,build/tsan/%,$(wildcard tests/adapters/store/*_test.c)) $(TSAN_REAL:%=build/tsan/tests/real/%_test)
tsan:
	@$(MAKE) --no-print-directory -j$(shell nproc) FLAVOUR=tsan all $(TSAN_TESTS)
	@TSAN_OPTIONS="suppressions=$(CURDIR)/tests/lint/tsan.txt halt_on_error=1" sh tests/lint/run.sh $(TSAN_TESTS)

# What compilers and clang-tidy find without running anything; each exception stands beside its reason: make analyse ONLY="FILE ..."
analyse:
	@sh tests/lint/packages.sh config/packages-analyse.txt
	@ANALYSE_FLAGS="$(CFLAGS_LIBS)" sh tests/lint/analyse.sh $(ONLY)

lint:
	@sh tests/lint/layers.sh
	@sh tests/lint/style.sh
	@sh tests/lint/install.sh
	@sh tests/lint/shown.sh
	@cppcheck --quiet --library=gtk --error-exitcode=1 --inline-suppr --std=c11 --language=c --enable=warning,portability \
	    --suppressions-list=tests/lint/cppcheck.txt -I. -j$(shell nproc) core adapters daemon

# --- installing: make install [PREFIX=/usr/local] [DESTDIR=...], make deb

VERSION = $(shell sed -n 's/^.define OSIER_VERSION "\(.*\)"$$/\1/p' daemon/version.h)
PREFIX ?= /usr/local
UNITDIR ?= $(PREFIX)/lib/systemd/system
ROOT := $(DESTDIR)$(PREFIX)

install: all
	@install -d $(ROOT)/bin $(ROOT)/share/osier $(ROOT)/share/man/man1 $(ROOT)/share/man/man8 \
	    $(ROOT)/share/doc/osier $(ROOT)/share/bash-completion/completions $(DESTDIR)$(UNITDIR)
	@install build/osier build/osierd $(ROOT)/bin
	@cp -r config/clinic.yaml config/languages config/programmes config/demo $(ROOT)/share/osier
	@build/osier --manual | gzip -9n >$(ROOT)/share/man/man1/osier.1.gz
	@sed 's/@VERSION@/$(VERSION)/' docs/man/osierd.8 | gzip -9n >$(ROOT)/share/man/man8/osierd.8.gz
	@build/osier --completion >$(ROOT)/share/bash-completion/completions/osier
	@cp README.md LICENSE docs/*.md $(ROOT)/share/doc/osier
	@sed 's|/usr/bin/osierd|$(PREFIX)/bin/osierd|' config/systemd/osierd.service >$(DESTDIR)$(UNITDIR)/osierd.service
	@chmod -R u=rwX,go=rX $(ROOT)/share/osier $(ROOT)/share/doc/osier $(DESTDIR)$(UNITDIR)/osierd.service
	@echo "installed under $(ROOT); next: osier init DIR"

uninstall:
	@rm -rf $(ROOT)/bin/osier $(ROOT)/bin/osierd $(ROOT)/share/osier $(ROOT)/share/doc/osier \
	    $(ROOT)/share/man/man1/osier.1.gz $(ROOT)/share/man/man8/osierd.8.gz \
	    $(ROOT)/share/bash-completion/completions/osier $(DESTDIR)$(UNITDIR)/osierd.service

# A Debian package in build/: its service runs a clinic under a user of its own that sends nothing until it is told how.
deb: all
	@sh config/debian/build.sh $(VERSION)

# It installs, works, goes on, goes, and leaves a clinic's records alone: in a root of its own.
deb-test: deb
	@sh tests/lint/deb.sh build/osier_$(VERSION)_$(shell dpkg --print-architecture).deb

clean:
	@rm -rf build

-include $(shell find $(addprefix $(OUT)/,core adapters daemon tests) -name "*.d" 2>/dev/null)
