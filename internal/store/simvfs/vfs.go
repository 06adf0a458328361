package simvfs

import (
	"errors"
	"math/rand/v2"
	"sync"
	"syscall"
	"time"
	"unsafe"

	"modernc.org/libc"
	sqlite3 "modernc.org/sqlite/lib"
)

// VFS is the name by which SQLite finds the disks of this package, with File as the name of a file.
const VFS = "fettle-simulated"

// handle is an open file.
type handle struct {
	disk  *Disk
	node  *node
	name  string
	fresh bool // its name was given by it, and its first sync makes that safe
	level int32
	reads [8]bool // its locks of the shared memory
	write [8]bool
	maps  bool
}

// file is what SQLite keeps of one.
type file struct {
	methods uintptr
	handle  int64
}

var (
	handles     sync.Map
	lastHandle  int64
	handleMutex sync.Mutex

	methods = sqlite3.Tsqlite3_io_methods{
		FiVersion: 2,
		FxClose:   fp(xClose), FxRead: fp(xRead), FxWrite: fp(xWrite), FxTruncate: fp(xTruncate), FxSync: fp(xSync), FxFileSize: fp(xFileSize),
		FxLock: fp(xLock), FxUnlock: fp(xUnlock), FxCheckReservedLock: fp(xCheckReservedLock),
		FxFileControl: fp(xFileControl), FxSectorSize: fp(xSectorSize), FxDeviceCharacteristics: fp(xDeviceCharacteristics),
		FxShmMap: fp(xShmMap), FxShmLock: fp(xShmLock), FxShmBarrier: fp(xShmBarrier), FxShmUnmap: fp(xShmUnmap),
	}
	vfs = sqlite3.Tsqlite3_vfs{
		FiVersion: 2, FszOsFile: int32(unsafe.Sizeof(file{})), FmxPathname: 512,
		FxOpen: fp(xOpen), FxDelete: fp(xDelete), FxAccess: fp(xAccess), FxFullPathname: fp(xFullPathname),
		FxRandomness: fp(xRandomness), FxSleep: fp(xSleep), FxGetLastError: fp(xGetLastError), FxCurrentTimeInt64: fp(xCurrentTimeInt64),
	}
)

// Register makes the disks of this package known to SQLite, once.
var Register = sync.OnceValue(func() error {
	tls := libc.NewTLS()
	defer tls.Close()
	name, err := libc.CString(VFS)
	if err != nil {
		return err
	}
	vfs.FzName = name
	if rc := sqlite3.Xsqlite3_vfs_register(tls, uintptr(unsafe.Pointer(&vfs)), 0); rc != sqlite3.SQLITE_OK {
		return errors.New("SQLite does not take the simulated disk")
	}
	return nil
})

// fp is a function as SQLite calls it. It has to be one of the package, which stays where it is.
func fp[F any](f F) uintptr { return *(*uintptr)(unsafe.Pointer(&f)) }

// in is memory of SQLite.
func in[T any](p uintptr) *T { return *(**T)(unsafe.Pointer(&p)) }

func bytesAt(p uintptr, n int32) []byte { return unsafe.Slice(in[byte](p), n) }

func of(p uintptr) *handle {
	h, _ := handles.Load(in[file](p).handle)
	return h.(*handle)
}

// asked is what a test says of a call, as SQLite has it.
func (d *Disk) asked(c Call, code int32) int32 {
	if d.before == nil {
		return sqlite3.SQLITE_OK
	}
	switch err := d.before(c); {
	case err == nil:
		return sqlite3.SQLITE_OK
	case errors.Is(err, syscall.ENOSPC) && c != CallRead && c != CallSync:
		return sqlite3.SQLITE_FULL
	default:
		return code
	}
}

func xOpen(_ *libc.TLS, _, name, p uintptr, flags int32, out uintptr) int32 {
	*in[file](p) = file{}
	h := &handle{}
	if name == 0 {
		h.node = &node{} // for a moment, and on no disk
		h.disk = New(nil)
		h.disk.Drop()
	} else {
		h.name = libc.GoString(name)
		if h.disk = on(h.name); h.disk == nil {
			return sqlite3.SQLITE_CANTOPEN
		}
		if rc := h.disk.asked(CallOpen, sqlite3.SQLITE_CANTOPEN); rc != sqlite3.SQLITE_OK {
			return sqlite3.SQLITE_CANTOPEN
		}
		h.disk.mu.Lock()
		defer h.disk.mu.Unlock()
		if h.node = h.disk.files[base(h.name)]; h.node == nil {
			if flags&sqlite3.SQLITE_OPEN_CREATE == 0 {
				return sqlite3.SQLITE_CANTOPEN
			}
			h.node = &node{}
			h.disk.files[base(h.name)] = h.node
			h.fresh = flags&(sqlite3.SQLITE_OPEN_MAIN_JOURNAL|sqlite3.SQLITE_OPEN_SUPER_JOURNAL|sqlite3.SQLITE_OPEN_WAL) != 0
		}
	}
	if h.node.locks == nil {
		h.node.locks = map[*handle]int32{}
	}
	handleMutex.Lock()
	lastHandle++
	n := lastHandle
	handleMutex.Unlock()
	handles.Store(n, h)
	*in[file](p) = file{uintptr(unsafe.Pointer(&methods)), n}
	if out != 0 {
		*in[int32](out) = flags
	}
	return sqlite3.SQLITE_OK
}

func xClose(_ *libc.TLS, p uintptr) int32 {
	h := of(p)
	h.disk.mu.Lock()
	defer h.disk.mu.Unlock()
	delete(h.node.locks, h)
	handles.Delete(in[file](p).handle)
	return sqlite3.SQLITE_OK
}

func xRead(_ *libc.TLS, p, to uintptr, n int32, at int64) int32 {
	h := of(p)
	if rc := h.disk.asked(CallRead, sqlite3.SQLITE_IOERR_READ); rc != sqlite3.SQLITE_OK {
		return rc
	}
	h.disk.mu.Lock()
	defer h.disk.mu.Unlock()
	buffer, read := bytesAt(to, n), 0
	if at < int64(len(h.node.data)) {
		read = copy(buffer, h.node.data[at:])
	}
	if clear(buffer[read:]); read < len(buffer) {
		return sqlite3.SQLITE_IOERR_SHORT_READ
	}
	return sqlite3.SQLITE_OK
}

// ErrShort lets a write end after half of it, with no room for the rest.
var ErrShort = errors.Join(errors.New("half was written"), syscall.ENOSPC)

func xWrite(_ *libc.TLS, p, from uintptr, n int32, at int64) int32 {
	h := of(p)
	data := append([]byte{}, bytesAt(from, n)...)
	rc := int32(sqlite3.SQLITE_OK)
	if h.disk.before != nil {
		switch err := h.disk.before(CallWrite); {
		case errors.Is(err, ErrShort):
			data, rc = data[:len(data)/2], sqlite3.SQLITE_FULL
		case errors.Is(err, syscall.ENOSPC):
			return sqlite3.SQLITE_FULL
		case err != nil:
			return sqlite3.SQLITE_IOERR_WRITE
		}
	}
	h.disk.mu.Lock()
	defer h.disk.mu.Unlock()
	h.node.change(change{at, data})
	return rc
}

func xTruncate(_ *libc.TLS, p uintptr, size int64) int32 {
	h := of(p)
	if rc := h.disk.asked(CallTruncate, sqlite3.SQLITE_IOERR_TRUNCATE); rc != sqlite3.SQLITE_OK {
		return rc
	}
	h.disk.mu.Lock()
	defer h.disk.mu.Unlock()
	h.node.change(change{at: size})
	return sqlite3.SQLITE_OK
}

// xSync makes a file safe; of a journal that was new, and with it of everything in the folder, the names too, as
// SQLite does it on a system of files.
func xSync(_ *libc.TLS, p uintptr, _ int32) int32 {
	h := of(p)
	rc := h.disk.asked(CallSync, sqlite3.SQLITE_IOERR_FSYNC)
	h.disk.mu.Lock()
	defer h.disk.mu.Unlock()
	if rc != sqlite3.SQLITE_OK {
		h.node.fails()
		return rc
	}
	h.node.sync()
	if h.fresh {
		h.disk.syncNames()
		h.fresh = false
	}
	return sqlite3.SQLITE_OK
}

func (d *Disk) syncNames() {
	d.safe = map[string]*node{}
	for name, n := range d.files {
		d.safe[name] = n
	}
}

func xFileSize(_ *libc.TLS, p, size uintptr) int32 {
	h := of(p)
	h.disk.mu.Lock()
	defer h.disk.mu.Unlock()
	*in[int64](size) = int64(len(h.node.data))
	return sqlite3.SQLITE_OK
}

// Locks of a file: none, shared, reserved, pending, exclusive.
func xLock(_ *libc.TLS, p uintptr, want int32) int32 {
	h := of(p)
	h.disk.mu.Lock()
	defer h.disk.mu.Unlock()
	highest := int32(sqlite3.SQLITE_LOCK_NONE)
	for other, level := range h.node.locks {
		if other != h {
			highest = max(highest, level)
		}
	}
	busy := false
	switch {
	case h.level >= want:
		return sqlite3.SQLITE_OK
	case want == sqlite3.SQLITE_LOCK_SHARED:
		busy = highest >= sqlite3.SQLITE_LOCK_PENDING
	case want == sqlite3.SQLITE_LOCK_RESERVED:
		busy = highest >= sqlite3.SQLITE_LOCK_RESERVED
	default:
		if highest >= sqlite3.SQLITE_LOCK_RESERVED {
			return sqlite3.SQLITE_BUSY
		}
		if busy = highest >= sqlite3.SQLITE_LOCK_SHARED; busy {
			h.level = sqlite3.SQLITE_LOCK_PENDING
			h.node.locks[h] = h.level
		}
	}
	if busy {
		return sqlite3.SQLITE_BUSY
	}
	h.level = want
	h.node.locks[h] = want
	return sqlite3.SQLITE_OK
}

func xUnlock(_ *libc.TLS, p uintptr, level int32) int32 {
	h := of(p)
	h.disk.mu.Lock()
	defer h.disk.mu.Unlock()
	h.level = min(h.level, level)
	h.node.locks[h] = h.level
	return sqlite3.SQLITE_OK
}

func xCheckReservedLock(_ *libc.TLS, p, out uintptr) int32 {
	h := of(p)
	h.disk.mu.Lock()
	defer h.disk.mu.Unlock()
	*in[int32](out) = 0
	for _, level := range h.node.locks {
		if level >= sqlite3.SQLITE_LOCK_RESERVED {
			*in[int32](out) = 1
		}
	}
	return sqlite3.SQLITE_OK
}

// xFileControl knows one thing: of no file anything is mapped into memory.
func xFileControl(_ *libc.TLS, _ uintptr, what int32, arg uintptr) int32 {
	if what != sqlite3.SQLITE_FCNTL_MMAP_SIZE {
		return sqlite3.SQLITE_NOTFOUND
	}
	*in[int64](arg) = 0
	return sqlite3.SQLITE_OK
}

func xSectorSize(*libc.TLS, uintptr) int32 { return 4096 }

// xDeviceCharacteristics says what SQLite takes for granted of files: a write changes nothing beside it.
func xDeviceCharacteristics(*libc.TLS, uintptr) int32 {
	return sqlite3.SQLITE_IOCAP_POWERSAFE_OVERWRITE
}

// xShmMap gives a part of the memory that the connections to a file share.
func xShmMap(tls *libc.TLS, p uintptr, part, size, extend int32, out uintptr) int32 {
	h := of(p)
	h.disk.mu.Lock()
	defer h.disk.mu.Unlock()
	*in[uintptr](out) = 0
	if !h.maps {
		h.maps = true
		h.node.users++
	}
	for int(part) >= len(h.node.shared) {
		if extend == 0 {
			return sqlite3.SQLITE_OK
		}
		m := libc.Xcalloc(tls, 1, libc.Tsize_t(size))
		if m == 0 {
			return sqlite3.SQLITE_NOMEM
		}
		h.node.shared = append(h.node.shared, m)
	}
	*in[uintptr](out) = h.node.shared[part]
	return sqlite3.SQLITE_OK
}

func xShmLock(_ *libc.TLS, p uintptr, first, n, flags int32) int32 {
	h := of(p)
	h.disk.mu.Lock()
	defer h.disk.mu.Unlock()
	slots := make([]int, 0, 8)
	for i := first; i < first+n; i++ {
		slots = append(slots, int(i))
	}
	if flags&sqlite3.SQLITE_SHM_UNLOCK != 0 {
		h.release(slots)
		return sqlite3.SQLITE_OK
	}
	shared := flags&sqlite3.SQLITE_SHM_SHARED != 0
	for _, i := range slots {
		others := h.node.reads[i]
		if h.reads[i] {
			others--
		}
		if h.node.writes[i] && !h.write[i] || !shared && others > 0 {
			return sqlite3.SQLITE_BUSY
		}
	}
	for _, i := range slots {
		if !shared {
			h.node.writes[i], h.write[i] = true, true
		} else if !h.reads[i] {
			h.node.reads[i]++
			h.reads[i] = true
		}
	}
	return sqlite3.SQLITE_OK
}

func (h *handle) release(slots []int) {
	for _, i := range slots {
		if h.reads[i] {
			h.node.reads[i]--
		}
		if h.write[i] {
			h.node.writes[i] = false
		}
		h.reads[i], h.write[i] = false, false
	}
}

func xShmBarrier(_ *libc.TLS, p uintptr) {
	h := of(p)
	h.disk.mu.Lock()
	defer h.disk.mu.Unlock() // which is one
}

func xShmUnmap(tls *libc.TLS, p uintptr, _ int32) int32 {
	h := of(p)
	h.disk.mu.Lock()
	defer h.disk.mu.Unlock()
	if !h.maps {
		return sqlite3.SQLITE_OK
	}
	h.release([]int{0, 1, 2, 3, 4, 5, 6, 7})
	h.maps = false
	if h.node.users--; h.node.users == 0 {
		for _, m := range h.node.shared {
			libc.Xfree(tls, m)
		}
		h.node.shared = nil
	}
	return sqlite3.SQLITE_OK
}

func xDelete(_ *libc.TLS, _, name uintptr, sync int32) int32 {
	file := libc.GoString(name)
	d := on(file)
	if d == nil {
		return sqlite3.SQLITE_IOERR_DELETE
	}
	if rc := d.asked(CallDelete, sqlite3.SQLITE_IOERR_DELETE); rc != sqlite3.SQLITE_OK {
		return sqlite3.SQLITE_IOERR_DELETE
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.files[base(file)] == nil {
		return sqlite3.SQLITE_IOERR_DELETE_NOENT
	}
	delete(d.files, base(file))
	if sync != 0 {
		d.syncNames()
	}
	return sqlite3.SQLITE_OK
}

// xAccess says whether a file is there; one without bytes is not, as SQLite has it.
func xAccess(_ *libc.TLS, _, name uintptr, flags int32, out uintptr) int32 {
	*in[int32](out) = 0
	file := libc.GoString(name)
	d := on(file)
	if d == nil {
		return sqlite3.SQLITE_OK
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if n := d.files[base(file)]; n != nil && (flags != sqlite3.SQLITE_ACCESS_EXISTS || len(n.data) > 0) {
		*in[int32](out) = 1
	}
	return sqlite3.SQLITE_OK
}

func xFullPathname(_ *libc.TLS, _, name uintptr, n int32, out uintptr) int32 {
	text := libc.GoString(name)
	if len(text) >= int(n) {
		return sqlite3.SQLITE_CANTOPEN
	}
	to := bytesAt(out, n)
	to[copy(to, text)] = 0
	return sqlite3.SQLITE_OK
}

func xRandomness(_ *libc.TLS, _ uintptr, n int32, out uintptr) int32 {
	for i := range bytesAt(out, n) {
		bytesAt(out, n)[i] = byte(rand.Uint32())
	}
	return n
}

func xSleep(_ *libc.TLS, _ uintptr, micro int32) int32 {
	wait := time.Duration(micro) * time.Microsecond
	waited.Add(int64(wait))
	time.Sleep(wait)
	return micro
}

func xGetLastError(*libc.TLS, uintptr, int32, uintptr) int32 { return 0 }

// xCurrentTimeInt64 is in milliseconds since noon in Greenwich on November 24, 4714 BC.
func xCurrentTimeInt64(_ *libc.TLS, _, out uintptr) int32 {
	*in[int64](out) = time.Now().UnixMilli() + 210866760000000
	return sqlite3.SQLITE_OK
}
